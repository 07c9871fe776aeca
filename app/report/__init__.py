"""The report to keep: the pages of a passage as one HTML file, or as a PDF to print."""

from .write import SUFFIXES, write_report

__all__ = ["SUFFIXES", "write_report"]
