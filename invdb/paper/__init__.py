"""Sheets written from plain values: PDF by ReportLab, XLSX by openpyxl."""
