"""The part of Borewright that knows Blender.

Blender's module is imported only when the extension is enabled or a mesh is
read, so that `core` can be used, and `--help` answered, without Blender.
"""


def register() -> None:
    """Make the command, the operator and its menu entry known to Blender."""
    from . import registration

    registration.register()


def unregister() -> None:
    """Take back all that `register` made known."""
    from . import registration

    registration.unregister()
