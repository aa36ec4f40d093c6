"""Headland: from a walked net-radiation survey to a lab report.

One module a step, each a set of pure functions on arrays and numbers: `ingest`, `calibrate`,
`correct_longwave`, `screen`, `segment`, `summarise`, `balance`, `propagate`, `report`; beside them `sun` and
`constants`. Only `settings`, `tables` and `step` touch files, and `bag`, which packs and opens archives
(`archive`, `netcdf`, `verify`, `workbook`).
"""
