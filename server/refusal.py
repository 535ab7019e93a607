"""What is said to a person when something cannot be done: a sentence that tells what is wrong and what to do."""


class Refusal(Exception):  # noqa: N818 - it is not an error of the program
    """The rule that was met does not allow this now. Raising it undoes the transaction."""

    status = 409

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class NotFound(Refusal):
    """There is no such thing in this lab."""

    status = 404


class NotAllowed(Refusal):
    """Somebody else may do this, but not this person."""

    status = 403


class NotSignedIn(Refusal):
    """Nobody is signed in, or the sign-in has ended."""

    status = 401
