"""Media types that requests bring and answers carry."""

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
