"""Formulas that know nothing of a campaign."""
