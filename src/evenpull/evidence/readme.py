"""README.txt of a bundle: what is in it, how to check it with a program and by hand, what it proves and what not."""

from __future__ import annotations

from evenpull.evidence.plain import shown


def readme(subject: str, fingerprint: str, verifier: str) -> bytes:
    """`fingerprint` of the key that seals the bundle; `verifier` SHA-256 of the program that lies in it."""
    return f"""Evidence bundle: {shown(subject)}

What is in it
  contents.txt      list of the files with their SHA-256; sha256sum -c contents.txt compares them
  facts.txt         the facts in plain lines: what, who, when received, when written, content
  reports/          reports made from the facts
  raw/              files exactly as they were received, and time-stamp tokens, named by their SHA-256
  facts.jsonl       the facts as they were digested, one a line
  proofs.jsonl      for each fact the proof that it is in the log under the signed state
  checkpoint.json   the signed state of the log: number of facts, root, time
  earlier.jsonl     earlier signed states, each with the proof that the log only grew since
  keys.jsonl        where a signing key took over from another: statements signed by both
  key.pem           public key of the signer
  manifest.json     size and SHA-256 of each of these files
  seal.json         signature over the manifest
  verify_bundle.py  a program that checks all this

How to read it with no program
  It is a ZIP file; any program for those unpacks it. Read facts.txt and reports/ first. Each fact in facts.txt has
  its number, which is its place in the log, and its digest. A fact of the kind "file" names the SHA-256 of a file in
  raw/. A later fact never replaces an earlier one: a correction names what it corrects, and both stay. A fact of the
  kind "reading withdrawn" says that the records of one reading of a file no longer count: those of the numbers that
  stand in it under "facts", from the first of each pair to the last.

How to check it with the program that lies in it
  python verify_bundle.py THIS-FILE --key FINGERPRINT
  It needs Python 3.9 or newer and the library cryptography, no database and no network. Somebody who forges a bundle
  can forge the program in it as well, so take it from its source, or compare its SHA-256 with the one published there:
    {verifier}

How to check it by hand
  1. sha256sum of each file = the value in manifest.json; of manifest.json itself = the value in seal.json.
  2. The signature in seal.json is Ed25519 (RFC 8032), hexadecimal, over seal.json without its "signature", written as
     canonical JSON (RFC 8785). The one in checkpoint.json likewise.
  3. In each line of facts.jsonl, "digest" is the SHA-256 of "fact" written as canonical JSON. The 32 bytes of the
     digest are leaf "seq" of a Merkle tree after RFC 6962 section 2.1; "path" in proofs.jsonl is its audit path.
     The path must lead to the root in checkpoint.json.
  4. In each line of earlier.jsonl, "path" is the consistency proof (RFC 6962 section 2.1.2) from that state to the one
     in checkpoint.json. Each state is signed by the key that was in force: the statement with "size" n in keys.jsonl
     says that states of more than n facts are signed by the new key. It is fact n of the log.
  5. A time-stamp token is about one line: the signed state as canonical JSON with a line feed at its end, as it stands
     in the fact of the kind "time-stamp". With that line in a file:
       openssl ts -verify -data LINE -in TOKEN -CAfile AUTHORITY.pem     (-token_in for a bare token)

What it proves and what not
  It proves that nothing in it was changed since the holder of the key sealed it, and that the log was not rewritten
  since the earlier states in it. The key in this bundle says nothing about who that is. Fingerprint of the key that
  sealed this bundle (SHA-256 of its 32 bytes):
    {fingerprint}
  Compare it with the fingerprint you got from the owner by another way, or give that one to the program.
  The times are those of the owner's clock; only a time-stamp token says more.
  Whether what was asserted is true in the world, no signature can show.
""".encode()
