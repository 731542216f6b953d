"""Addresses of the stores."""

from django.urls import path

from pricing.views import book, examples, kit, orders, packs, sheets, stock

app_name = "pricing"
urlpatterns = [
    path("", book.stores, name="stores"),
    path("new/", book.new_supply, name="new-supply"),
    path("<int:pk>/", book.supply, name="supply"),
    path("<int:pk>/prices/", book.new_price, name="new-price"),
    path("confirm/", examples.confirm, name="confirm"),
    path("rates/", book.rates, name="rates"),
    path("shelves/", stock.stock, name="stock"),
    path("shelves/move/", stock.move, name="stock-move"),
    path("shelves/count/", stock.count_sheet, name="count"),
    path("shelves/count.pdf", stock.count_sheet_pdf, name="count-pdf"),
    path("kit/", kit.kit, name="kit"),
    path("kit/new/", kit.new_item, name="new-kit"),
    path("kit/<int:pk>/", kit.item, name="kit-item"),
    path("kit/back/<int:pk>/", kit.came_back, name="kit-back"),
    path("packs/", packs.packs, name="packs"),
    path("packs/new/", packs.pack, name="new-pack"),
    path("packs/<int:pk>/", packs.pack, name="pack"),
    path("suppliers/new/", packs.supplier, name="new-supplier"),
    path("suppliers/<int:pk>/", packs.supplier, name="supplier"),
    path("orders/", orders.orders, name="orders"),
    path("orders/<int:number>/", orders.order, name="order"),
    path("orders/<int:number>.pdf", orders.order_pdf, name="order-pdf"),
    path("sheets/", sheets.sheets, name="sheets"),
    path("sheets/<slug:kind>.csv", sheets.export, name="export"),
    path("sheets/<int:pk>/", sheets.trial, name="trial"),
]
