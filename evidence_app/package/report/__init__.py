"""The report: one page for people, as HTML in the package and as a PDF to print."""
