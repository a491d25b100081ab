"""A run: which dumps, read how, checked by which rules; gives flat records for the reports."""
