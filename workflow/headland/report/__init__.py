"""The report: page, tables, figures, workbook, data package."""
