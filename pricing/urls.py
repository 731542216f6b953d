"""Addresses of the stores."""

from django.urls import path

from pricing import views

app_name = "pricing"
urlpatterns = [
    path("", views.stores, name="stores"),
    path("new/", views.new_supply, name="new-supply"),
    path("<int:pk>/", views.supply, name="supply"),
    path("<int:pk>/prices/", views.new_price, name="new-price"),
    path("rates/", views.rates, name="rates"),
]
