"""Standard gravity, the one figure that turns a mass on a scale into a force in newtons."""

from __future__ import annotations

# Source: 3rd General Conference on Weights and Measures (1901); exact by definition. Local gravity differs by
# up to 0.3 %, which is inside every margin used in this package.
GRAVITY = 9.80665
