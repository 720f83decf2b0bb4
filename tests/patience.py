"""How long a test waits for what ought to come at once.

A wait that ends as soon as the thing is so costs nothing on a quick machine: so it is long enough
for a slow one, beside another process's tests. (A bound that is itself the promise, as "the server
ends within six seconds", stands in its test as a number.)
"""

SECONDS = 30.0
#: The browser's: an expectation that fails has had this long to come true.
BROWSER_MS = 15_000
