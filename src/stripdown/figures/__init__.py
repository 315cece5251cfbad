"""One function a figure: a Case or fleet table in, a figure with its alt text out."""
