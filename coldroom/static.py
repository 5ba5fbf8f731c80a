"""Static files under names that change with their contents, our script modules included."""

import os

from whitenoise.storage import CompressedManifestStaticFilesStorage

# A statement at the start of a line, over one line or several.
_IMPORT = (
    r"""(?m)^(?P<matched>(?P<before>(?:import|export)\b(?:[^;"'`]*\bfrom)?\s*)"""
    r"""["'](?P<url>\.{1,2}/[^"']+)["'])"""
)


class HashedStorage(CompressedManifestStaticFilesStorage):
    """Writes the hashed names into our modules' imports, so that no browser mixes old with new.

    Ours only: Django's own switch for it rewrites every script, and fails on one that django-htmx
    brings along. Modules may not import each other in a ring, whose hashes would never settle.
    """

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (f"inventory{os.sep}*.js", ((_IMPORT, '%(before)s"%(url)s"'),)),
    )
