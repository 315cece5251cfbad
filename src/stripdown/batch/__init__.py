"""Notebooks over many records: kernels, workers, ledger, progress, index."""
