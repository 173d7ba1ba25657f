"""Letters of mates and of parts."""

ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, mistaken for 1 and 0


def letter(number: int) -> str:
    """The number-th letter from 0: A, B, … Z, AA, AB, …"""
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, len(ALPHABET))
        text = ALPHABET[digit] + text
    return text
