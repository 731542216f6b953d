"""Addresses of the stores."""

from django.urls import path

from pricing.book import examples, prices
from pricing.stores.pages import csv_files, kit, orders, packs, stock

app_name = "pricing"
urlpatterns = [
    path("", prices.stores_page, name="stores"),
    path("new/", prices.new_supply, name="new-supply"),
    path("<int:pk>/", prices.supply_page, name="supply"),
    path("<int:pk>/prices/", prices.new_price, name="new-price"),
    path("confirm/", examples.confirm_examples, name="confirm"),
    path("rates/", prices.rates_page, name="rates"),
    path("shelves/", stock.stock_page, name="stock"),
    path("shelves/move/", stock.stock_move, name="stock-move"),
    path("shelves/count/", stock.count_sheet, name="count"),
    path("shelves/count.pdf", stock.count_sheet_pdf, name="count-pdf"),
    path("kit/", kit.kit_page, name="kit"),
    path("kit/new/", kit.new_item, name="new-kit"),
    path("kit/<int:pk>/", kit.kit_item_page, name="kit-item"),
    path("kit/back/<int:pk>/", kit.kit_came_back, name="kit-back"),
    path("packs/", packs.packs_page, name="packs"),
    path("packs/new/", packs.pack_page, name="new-pack"),
    path("packs/<int:pk>/", packs.pack_page, name="pack"),
    path("suppliers/new/", packs.supplier_page, name="new-supplier"),
    path("suppliers/<int:pk>/", packs.supplier_page, name="supplier"),
    path("orders/", orders.orders_page, name="orders"),
    path("orders/<int:number>/", orders.order_page, name="order"),
    path("orders/<int:number>.pdf", orders.order_pdf, name="order-pdf"),
    path("sheets/", csv_files.csv_files_page, name="sheets"),
    path("sheets/<slug:kind>.csv", csv_files.export_csv, name="export"),
    path("sheets/<int:pk>/", csv_files.trial_page, name="trial"),
]
