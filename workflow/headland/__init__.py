"""Headland: from a walked net-radiation survey to a lab report.

A room a subject, through which data goes one way: base, physics, files, uncertainty, checks, chain, report;
then field, course and record. DEVELOPERS.md says what each holds. A step is a module of `chain` with one
`run`.
"""
