"""The pages on the phone: thin handlers over the arithmetic."""
