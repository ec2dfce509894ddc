"""The HTTP interface for gateways and other programs: typed, described by OpenAPI, one token for each client."""
