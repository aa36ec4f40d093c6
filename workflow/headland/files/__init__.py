"""All that touches files: settings, tables, layouts, jobs."""
