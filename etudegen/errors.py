"""The two ways in which a request can fail, with the exit code each one earns."""


class InputError(ValueError):
    """The user asked for something that cannot be: one sentence with what, which value, what is allowed."""

    exit_code = 2


class MachineError(RuntimeError):
    """The computer let the user down (disk, LilyPond): one sentence with what failed and where to look."""

    exit_code = 1
