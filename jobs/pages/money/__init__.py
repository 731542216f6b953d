"""Payments, invoices, a job called off, reminders, reports."""
