"""The report as one self-contained page: for the student, and with the numbers for the teacher."""

from midifret.report_page.page import page_html
from midifret.report_page.values import Progress

__all__ = ["Progress", "page_html"]
