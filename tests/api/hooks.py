"""How lines of a batch are sent: as the text they are."""

import schemathesis


@schemathesis.serializer("application/x-ndjson")
def lines(ctx, value):
    return value.encode("utf-8", "surrogatepass") if isinstance(value, str) else str(value).encode()
