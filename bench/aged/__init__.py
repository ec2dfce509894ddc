"""Cards filled in with known truth and aged: what the reader of scans is measured on."""
