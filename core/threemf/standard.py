"""Names that the 3MF standard fixes.

References
----------
3MF Consortium (2025), 3MF Core Specification 1.4.0: sections 2 (package), 3 (model)
and appendix C (content types, relationships, namespaces). ISO/IEC 29500-2, Open
Packaging Conventions, for the package itself.
"""

from __future__ import annotations

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
CONTENT_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
RELATIONSHIPS = "http://schemas.openxmlformats.org/package/2006/relationships"
"""Namespaces."""

MODEL_RELATIONSHIP = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
"""What the package's own relationship to its model is called."""

MODEL_CONTENT = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
RELATIONSHIPS_CONTENT = "application/vnd.openxmlformats-package.relationships+xml"

CONTENT_TYPES_PART = "[Content_Types].xml"
RELATIONSHIPS_PART = "_rels/.rels"
MODEL_PART = "3D/3dmodel.model"
