"""One function a figure; each takes a Case or a fleet object and returns a `Figure` with its alt text."""
