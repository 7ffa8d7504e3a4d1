"""Writes python-email.sha256: the digest of every attachment of the mails
given, as Python's email package decodes it, and the mail's name. Run from this
folder:

    python3 python_email.py ../../../testdata/labs/ashlar-reed-soil-laboratory/*.eml \\
        ../../../testdata/hostile/nested.eml > python-email.sha256
"""
import email, email.policy, hashlib, os, sys

for name in sys.argv[1:]:
    with open(name, "rb") as f:
        mail = email.message_from_binary_file(f, policy=email.policy.default)
    for part in mail.walk():
        if not part.is_multipart() and part.get_filename():
            print(hashlib.sha256(part.get_payload(decode=True)).hexdigest(), os.path.basename(name))
