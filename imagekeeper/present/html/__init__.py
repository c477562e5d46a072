"""Pages, sheets and labels of results, as HTML text."""
