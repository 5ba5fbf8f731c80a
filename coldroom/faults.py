"""What keeps the program from starting, said before Django can translate anything."""


class CannotStart(Exception):
    """A sentence in both languages that says what is wrong and what to do."""

    def __init__(self, english: str, spanish: str) -> None:
        super().__init__(f"{english}\n{spanish}")
