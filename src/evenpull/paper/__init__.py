"""Cards that were read back from a scan: who keys what, what is proven by two people, and the records that follow."""
