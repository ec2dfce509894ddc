"""Scanned cards read back: pages straightened, codes read, tick boxes judged, every written box cropped.

`read.read_scan` takes a file; it needs the optional extra `scan`. `keying_cost` needs nothing. No handwriting is
decided here, and a tick box that is not clear is left to people (docs/scan.md).
"""
