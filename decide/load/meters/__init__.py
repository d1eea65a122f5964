"""Meter logs, interval data and tariff files."""
