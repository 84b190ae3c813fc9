"""What browsers may do with our answers: the headers that go with each of them."""

POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
SECURITY_HEADERS: list[tuple[bytes, bytes]] = [
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    # Not `no-referrer`: with it browsers send `Origin: null` with our own forms, and a phone on a
    # plain-http address sends no Sec-Fetch-Site by which it could be known instead.
    (b"referrer-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), payment=()"),
]
# A script or a style runs under its page's policy; on sixty small modules the rest is dead weight.
STATIC_HEADERS = [
    header
    for header in SECURITY_HEADERS
    if header[0] in (b"x-content-type-options", b"cross-origin-resource-policy")
]
