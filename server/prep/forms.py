"""What is ticked on a prep sheet."""

from server.web.submitted import Form


class Tick(Form):
    """`done` is what the line shall be, so that a tick that is sent twice is one tick."""

    done: bool
