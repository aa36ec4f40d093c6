"""Before and during the field day: plan, form, new campaign, quick look."""
