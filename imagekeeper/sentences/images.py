"""Images: the steps that change one, and what does not fit."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/geometry": Says(
        what="that is no geometry of a disk",
        why="{cylinders}x{heads}x{sectors}x{size} cannot be",
        next="give cylinders, heads, sectors and bytes, such as 615x4x17x512",
    ),
    "usage/file-for-two-lanes": Says(
        what="one file was given for two lanes",
        why="{one} and {other} are one file",
        next="name the read of another chip for each lane",
    ),
    "usage/geometry-of-step": Says(
        what="a geometry cannot be read",
        why="it is {geometry:quoted 60}, first track {first_track:quoted 60}",
        next="write it as cylinders x heads x sectors x bytes, such as 80x2x9x512",
    ),
    "usage/count-of-lanes": Says(
        what="{images:plural image} cannot be joined as lanes",
        why="a bus has 2 or 4 lanes",
        next="name one further image for each further lane: one or three",
    ),
    "usage/number-of-step": Says(
        what="{name} cannot be {value}",
        why="it goes from {least} to {most}",
        next="give a number from {least} to {most}",
    ),
    "usage/choice-of-step": Says(
        what="{name} cannot be {value}",
        why="it is {choice}",
        next="give {choice}",
    ),
    "usage/figure-of-geometry": Says(
        what="that is no geometry of a disk",
        why="{figure} would be {value}",
        next="give a number from {least} to {most}",
    ),
    "usage/size-of-geometry": Says(
        what="that is no geometry of a floppy disk",
        why="{geometry} are {size:size}",
        next="the limit is {limit:size}; look for a wrong figure",
    ),
    "usage/no-two-sides": Says(
        what="there are no two sides to put in order",
        why="the geometry {geometry} has {sides}",
        next="give a geometry of two sides, or leave the order of sides alone",
    ),
    "usage/turn-of-sectors": Says(
        what="a track of {sectors:plural sector} has no {turn} {value}",
        why="it can be {least} to {most}",
        next="give the {turn} of the disk",
    ),
    "usage/called-lane": Says(why="one lane"),
    "usage/called-lane-width": Says(why="the width of a lane"),
    "usage/called-join": Says(why="lanes to join"),
    "usage/called-trim": Says(why="the byte to trim"),
    "usage/called-trim-to": Says(why="the size to trim to"),
    "usage/called-pad-to": Says(why="the size to pad to"),
    "usage/called-pad-at": Says(why="the end to pad at"),
    "usage/called-repeat-to": Says(why="the size to fill with copies"),
    "usage/called-cut-data": Says(why="leave to cut data"),
    "usage/called-geometry": Says(why="a geometry"),
    "usage/called-fit-geometry": Says(why="fitting to the geometry"),
    "usage/called-sides-from": Says(why="the order of sides that the file has"),
    "usage/called-sides-to": Says(why="the order of sides wanted"),
    "usage/called-interleave-from": Says(why="the interleave that the file has"),
    "usage/called-interleave-to": Says(why="the interleave wanted"),
    "usage/called-skew-from": Says(why="the skew that the file has"),
    "usage/called-skew-to": Says(why="the skew wanted"),
    "usage/called-fill": Says(why="a byte to fill with"),
    "usage/needs-lane": Says(why="it says how wide a lane is"),
    "usage/needs-trim": Says(why="that names the byte that may be cut away"),
    "usage/needs-fill": Says(why="that names the byte to pad with"),
    "usage/needs-size": Says(why="that says to which size"),
    "usage/needs-fit": Says(why="that is what cuts"),
    "usage/needs-fill-to-fit": Says(why="that names the byte to pad with, and the only one that may be cut away"),
    "usage/needs-geometry": Says(why="that says where tracks and sectors begin"),
    "usage/needs-work": Says(why="it says what the disk is like, not what to do"),
    "usage/clash-of-lanes": Says(why="one makes the whole image of its lanes, the other takes a lane of the whole"),
    "usage/clash-of-lanes-and-disk": Says(why="lanes are of chips, a geometry is of a disk"),
    "usage/clash-of-copies": Says(why="chips are filled with copies, a disk never is"),
    "usage/steps-clash": Says(
        what="{one} and {other} clash",
        why="{because}",
        next="do one, and the other with its result",
    ),
    "usage/step-needs": Says(
        what="{step} needs {wanted:list or}",
        why="{because}",
        next="add {wanted:list or}, or leave out {step}",
    ),
    "usage/count-to-join": Says(
        what="{images} images cannot be joined as lanes",
        why="a bus has 2 or 4 lanes, and the first image is one of them",
        next="name one further image, or three",
    ),
    "usage/sides-as-they-are": Says(
        what="the order of sides that the file has and the one wanted clash",
        why="both are {order}, so that nothing would change",
        next="give the order that the file has, and the order wanted",
    ),
    "usage/sectors-as-they-are": Says(
        what="the order of sectors wanted is the one that they have",
        why="they are the same, so that nothing would change",
        next="give those that the file has, and those wanted; what is left out is interleave 1 and skew 0",
    ),
    # --- gaps ---
    "gaps/disk": Says(
        what="the image has gaps, so that its sectors do not follow each other",
        why="it has {pieces:plural piece}",
        next="fill them with the byte that formatting left, such as E5",
    ),
    "gaps/window": Says(
        what="the window lies in a gap",
        why="the image has no byte from {first:04X} to {last:04X}",
        next="look where the image has bytes",
    ),
    "gaps/joined": Says(
        what="an image that is to be joined has gaps",
        why="{gaps:plural gap}, the first at {first:04X}",
        next="fill its gaps with FF or take a part of it first, and join the result",
    ),
    "gaps/transformed": Says(
        what="the image has gaps, and a transformation needs a byte at every address",
        why="{gaps:plural gap}, the first at {first:04X}",
        next="fill them, with FF or any other byte you give; or take a part without gaps",
    ),
    # --- address-out-of-range ---
    "address-out-of-range/base": Says(
        what="the image does not fit below 4 GiB at that base",
        why="{size:size} from {base:X} go past FFFFFFFF",
        next="give a lower base address",
    ),
    # --- does-not-fit ---
    "does-not-fit/breaks-off": Says(
        what="the file breaks off within a track",
        why="its {size:size} are {missing:size} fewer than whole tracks of {geometry}",
        next="read the disk again, or pad the file to {whole} bytes on purpose first",
    ),
    "does-not-fit/window-outside": Says(
        what="the window is not wholly within the image",
        why="{outside:size} of it lie outside; the image goes from {first:04X} to {last:04X}",
        next="give an address and a size within, or make the image larger first",
    ),
    "does-not-fit/words": Says(
        what="the image does not divide into words of {bits} bits",
        why="its {size:size} are {over:size} more than whole words, or {short:size} fewer",
        next="look for what is missing or too much, and take a part",
    ),
    "does-not-fit/other-images": Says(
        what="the images to join are not those of the step",
        why="their SHA-256 should be {wanted:list}, and are {found}",
        next="give the images that were joined, in the same order",
    ),
    "does-not-fit/lanes": Says(
        what="the image does not divide into {lanes} lanes of {width:plural byte}",
        why="its {size:size} are {over:size} more than whole rows of {row}, or {short:size} fewer",
        next="look for what is missing or too much, and take a part",
    ),
    "does-not-fit/words-of-lane": Says(
        what="a lane does not divide into words of {width} bytes",
        why="its {size:size} are {over:size} too many",
        next="look for what is missing",
    ),
    "does-not-fit/beyond-end": Says(
        what="the window goes beyond the end of the image",
        why="it needs {missing:size} more than the image has, which is {size:size}",
        next="give a smaller window, or one that begins earlier",
    ),
    "does-not-fit/gaps": Says(
        what="the gaps are not those of this image",
        why="a gap of {length:size} at {at:04X} does not lie between its bytes",
        next="take the image that the gaps were recorded for",
    ),
    "does-not-fit/larger-than-padded": Says(
        what="the image is larger than what it should be padded to",
        why="it has {over:size} more than {size:size}",
        next="give a larger size, or trim the image or take a part of it",
    ),
    "does-not-fit/whole-copies": Says(
        what="whole copies of the image do not fill that size",
        why="{copies} x {size:size} leave {over:size} of {wanted:size}",
        next="give a multiple of the image's size, or pad it first",
    ),
    "does-not-fit/power-of-two": Says(
        what="the image cannot be trimmed to a power of two",
        why="its data need {used:size}, the next power of two is {wanted:size}, and the image has {missing:size} fewer",
        next="trim it to {used} bytes, which is just that, or pad it to {wanted} bytes, the power of two",
    ),
    "does-not-fit/smaller-than-trimmed": Says(
        what="the image is smaller than what it should be trimmed to",
        why="it has {missing:size} fewer than {wanted:size}",
        next="pad it to that size",
    ),
    "does-not-fit/first-track": Says(why="{geometry} with a first track of {sectors}x{size}"),
    "does-not-fit/more-than-geometry": Says(
        what="the image has not the size of its geometry",
        why="{geometry} are {size:size}, and the image has {by:size} more",
        next="solve the image's geometry, or cut or pad the image to the one that was given",
    ),
    "does-not-fit/less-than-geometry": Says(
        what="the image has not the size of its geometry",
        why="{geometry} are {size:size}, and the image has {by:size} fewer",
        next="solve the image's geometry, or cut or pad the image to the one that was given",
    ),
    "does-not-fit/longer-lane": Says(
        what="the lanes differ in size",
        why="lane {lane} has {by:size} more than lane 0, which has {size:size}",
        next="chips side by side are of one size: trim, pad or cut out a part first, each for itself",
    ),
    "does-not-fit/shorter-lane": Says(
        what="the lanes differ in size",
        why="lane {lane} has {by:size} fewer than lane 0, which has {size:size}",
        next="chips side by side are of one size: trim, pad or cut out a part first, each for itself",
    ),
    # --- would-lose ---
    "would-lose/beyond-geometry": Says(
        what="cutting the image to this geometry would lose data",
        why="of the {size:size} beyond {geometry}, {lost} are not the fill byte {fill:02X}",
        next="look at them first; they can be cut away all the same, if that is asked for",
    ),
    "would-lose/all-fill": Says(
        what="trimming would leave nothing",
        why="every byte of the image is {fill:02X}",
        next="trim a blank image to a size of your choice",
    ),
    "would-lose/trimmed": Says(
        what="trimming would lose data",
        why="of the last {size:size}, {lost} are not the fill byte {fill:02X}; all but the fill needs {used:size}",
        next="trim to {used} bytes or more; a part can be taken whatever the rest holds",
    ),
    # --- step-record ---
    "step-record": Says(
        what="a recorded step of a conversion cannot be done again",
        why="step {number}: {trouble}",
        next="the record is damaged, or was made by a later version of this program",
    ),
    "step-record/no-list": Says(
        what="a recorded step of a conversion cannot be done again",
        why="the records should be a list of at most {limit}",
        next="the record is damaged, or was made by a later version of this program",
    ),
    "step-record/needs": Says(why="it needs the image {image}, which was not given"),
    "step-record/name": Says(why="its name is none of {names:list}"),
    "step-record/members": Says(why="{name} has the members {members:list}, no more and no fewer"),
    "step-record/type": Says(why="{member} of {name} is not of its type"),
    "step-record/refused": Says(why="{what}; {why}"),
    # --- too-large ---
    "too-large/transformed": Says(
        what="the image is too large to be transformed",
        why="it holds {size:size}; the limit is {limit:size}",
        next="take a part of it",
    ),
}
