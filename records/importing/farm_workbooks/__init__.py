"""Farms set up from one workbook, a sheet for each kind of record.

`declared` says what is on the sheets, `reading` makes entries of their rows (both pure),
`loading` stores the entries, and `template` makes a blank workbook.
"""
