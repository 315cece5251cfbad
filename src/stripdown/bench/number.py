"""What the functions of this room take and give: a float, or an array of floats where an array went in."""

from typing import Any, TypeAlias

Number: TypeAlias = Any
