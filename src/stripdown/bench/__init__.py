"""What a measurement means: pure functions on numbers or arrays, one module a field."""
