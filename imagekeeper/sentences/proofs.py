"""Rows of chips that contradict themselves."""

from imagekeeper.sentences.says import Says

_LOOK = "look at the maker's data sheet again, and correct the row"


def _says(why: str, step: str = _LOOK) -> Says:
    return Says(why=why, next=step)


SAYS: dict[str, Says] = {
    # --- pins ---
    "row-contradicts/address-lines": _says(
        "{lines:plural address pin} reach {reach} words, and it is said to hold {words}"
    ),
    "row-contradicts/data-lines": _says("it has {lines:plural data pin}, and words of {bits:plural bit}"),
    "row-contradicts/line-missing": _says("{lines:list} has no pin, though {last} has one"),
    "row-contradicts/line-repeated": _says("{line} stands on pins {pins:list and}"),
    "row-contradicts/size": _says("{words} words of {bits:plural bit} are not {bytes:plural byte}"),
    "row-contradicts/supply-without-pin": _says("no pin carries the supply {name}"),
    "row-contradicts/pin-without-supply": _says(
        "a pin is named {name}, and no voltage is given for it, nor a sentence that says why"
    ),
    "row-contradicts/no-ground": _says("no pin is ground"),
    "row-contradicts/pins": _says("it is said to have {pins} pins, and its pinout gives {given}"),
    "row-contradicts/package": _says("no package has {pins} pins in rows {inch:g} inch apart"),
    "row-contradicts/no-select": _says("no pin lets it answer: none is an enable or a select"),
    "row-contradicts/select-level": _says(
        "whether {names:list} must be high or low is not said",
        "write a slash before a select that is active low, and CE for one that is active high; of a mask ROM, say that "
        "it was chosen with the mask",
    ),
    "row-contradicts/organisation": _says(
        "{words} words of {bits:plural bit} with {address_bits} bits of address hold other bits than it has, or are "
        "not all reached"
    ),
    "row-contradicts/latches": _says("{value} is no answer to which parts take the address in: always or some"),
    "row-contradicts/latches-by": _says("it takes the address in as an enable falls, and has no enable"),
    # --- voltages ---
    "row-contradicts/vpp-without-pin": _says("it has a programming voltage, and no pin that carries one"),
    "row-contradicts/pin-without-vpp": _says(
        "pin {pins:list} is Vpp, and no programming voltage is given, nor a reason why not",
        "give the voltage of the maker's data sheet, or say why the maker must be asked for",
    ),
    "row-contradicts/voltage-shape": _says(
        "{figures:list} is not written as what it is said to be: {kind}",
        "write the lower end of a range first, the figures of a choice lowest first and each once",
    ),
    "row-contradicts/limit": _says("{whose}: {volts} is past its own absolute maximum of {most}"),
    "row-contradicts/lowest-limit": _says(
        "its highest Vpp is said to be {most}, and one of its makers' parts stands {lowest} at most"
    ),
    "row-contradicts/supply": _says("no such chip has a {name} of {volts}"),
    "row-contradicts/voltage": _says("{volts} is not between {low} and {high}, as such voltages are"),
    "row-contradicts/tolerance": _says("no supply may be off by {tolerance:g}%"),
    "row-contradicts/asks-and-gives": _says(
        "figures for all makers are given, though the maker must be asked for: {because}",
        "leave the figures to the makers' own rows",
    ),
    "row-contradicts/makers-differ": _says(
        "figures for all makers are given, and they destroy some: {because}",
        "leave the figures to the makers' own rows, and say why the maker must be asked for",
    ),
    # --- programming ---
    "row-contradicts/method-unknown": _says("no such way to program is known: {method}"),
    "row-contradicts/method": _says("{method} asks for {supply} {volts}, and the row gives {given}"),
    "row-contradicts/five-volts-only": _says("it is said to be written with 5 V only, and has a programming voltage"),
    "row-contradicts/pulse-unclear": _says(
        "the program pulse is unclear: {pulse}", "begin it with its level and its pin, as in: low, on pin 18"
    ),
    "row-contradicts/pulse": _says("the program pulse is {level}, on pin {pin}, and that pin is {names}"),
    # --- how it is made ---
    "row-contradicts/technology": _says("no such technology is known: {technology}"),
    "row-contradicts/carrier": _says("it is no {carrier} but of the kind {expected}, by its technology"),
    "row-contradicts/availability": _says("{value} does not say how it is still had"),
    "row-contradicts/no-dose": _says("it is erased by light ({technology}), and no dose is given"),
    "row-contradicts/dose": _says("light does not erase it ({technology}), and a dose is given"),
    "row-contradicts/dose-size": _says("no chip takes such a dose to erase: {doses:list} W s/cm2"),
    "row-contradicts/erasing": _says(
        "how it is erased electrically is said of those that look like EPROMs and need it, and of no others"
    ),
    "row-contradicts/never-programmed": _says("nobody programs a chip of this kind ({technology})"),
    "row-contradicts/blank": _says("its blank byte is {value}, which is none that it can have or be known to have"),
    "row-contradicts/no-write-line": _says("a board writes it, and it has no line for that"),
    "row-contradicts/write-line": _says("it is never written in its socket, and has {names:list}"),
    "row-contradicts/cell": _says("where the battery is, is said of RAM, and of nothing else"),
    "row-contradicts/outputs": _says("which outputs it has, is said of fuse PROMs, and of nothing else"),
    "row-contradicts/access": _says("its access times are not fastest first, each once: {times:list} ns"),
    "row-contradicts/signature": _says("{code} is no signature of two bytes, or stands twice"),
    "row-contradicts/signature-pin": _says("it has a signature, and no A9 to ask for it"),
    # --- grounds ---
    "row-contradicts/no-ground-given": _says(
        "nothing says where it is from", "name the document that gives it, or say that it is from memory"
    ),
    "row-contradicts/ground-of-nothing": _says("{grounds:list} names it, and it has no value"),
    "row-contradicts/grounds": _says("it stands in {grounds:list and}", "let it stand in one of them"),
    "row-contradicts/rule-unknown": _says("nobody can derive it again by that rule: {rule}"),
    "row-contradicts/derived": _says("it is {given}, and by its rule ({rule}) {expected}"),
    "row-contradicts/dispute-of-nothing": _says("it is said to be disputed, and has no value"),
}
