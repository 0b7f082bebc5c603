"""Bytes in and out: labels, PDF, charts, spreadsheets; no database, no web."""
