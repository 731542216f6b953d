"""Every kind of support that a piece can stand on."""

from jobs.design.supports.arch import Arch
from jobs.design.supports.base import Support
from jobs.design.supports.rail import Rail
from jobs.design.supports.ring import Ring

AnySupport = Ring | Arch | Rail
KINDS: dict[str, type[Support]] = {"ring": Ring, "arch": Arch, "rail": Rail}
