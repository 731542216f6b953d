"""Payments, invoices, reminders, reports."""
