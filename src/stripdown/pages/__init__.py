"""Case or fleet → one HTML file and a PDF."""
