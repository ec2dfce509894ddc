"""Open data of others that the demo takes in as real records. Each folder has a README with source and licence."""
