"""Notebooks over many records: work items, ledger, progress, index."""
