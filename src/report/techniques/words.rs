use super::technique::Technique;

/// What is told of a technique.
pub(super) struct Words {
    pub title: &'static str,
    pub when: &'static str,
    pub steps: &'static [&'static str],
    pub mind: &'static str,
}

pub(super) const fn of(technique: Technique) -> Words {
    match technique {
        Technique::NeedlePositions => NEEDLE_POSITIONS,
        Technique::Weights => WEIGHTS,
        Technique::WasteCastOn => WASTE_CAST_ON,
        Technique::RibCastOn => RIB_CAST_ON,
        Technique::WoundCastOn => WOUND_CAST_ON,
        Technique::ShortRows => SHORT_ROWS,
        Technique::BackToWork => BACK_TO_WORK,
        Technique::Hang => HANG,
        Technique::TakeIn => TAKE_IN,
        Technique::BringIn => BRING_IN,
        Technique::Transfer => TRANSFER,
        Technique::LatchUp => LATCH_UP,
        Technique::ScrapOff => SCRAP_OFF,
        Technique::Rehang => REHANG,
        Technique::PickUp => PICK_UP,
        Technique::CastOff => CAST_OFF,
        Technique::Graft => GRAFT,
        Technique::Seam => SEAM,
        Technique::Gather => GATHER,
        Technique::Corner => CORNER,
    }
}

const NEEDLE_POSITIONS: Words = Words {
    title: "Needle positions",
    when: "Every pattern speaks of them.",
    steps: &[
        "Non-working: the needle lies as far back in the bed as it goes. The carriage passes it by.",
        "Working: its hook stands just in front of the edge of the bed. It knits with every row.",
        "Upper working: pushed out so far that its stitch lies behind the open latch. It knits with the \
         next row and is then a working needle.",
        "Holding: pushed out as far as it goes. With the hold lever on it keeps its stitch and does not \
         knit; the yarn lies across it or is led round it.",
    ],
    mind: "Open latches with a brush or the edge of a ruler before the row, not with a finger that could \
           slip: hooks are sharp.",
};

const WEIGHTS: Words = Words {
    title: "Weights",
    when: "Stitches come off their needles only when something pulls them down.",
    steps: &[
        "After the first rows hang the comb, or claw weights, evenly: about one claw for 20 stitches, and \
         one at each edge.",
        "Move the weights up to about 10 rows below the needles whenever they have sunk by a hand's \
         breadth; edge weights more often.",
        "In short rows hang a claw close under the needles that knit, and move it with them. What is held \
         wants none.",
        "New loops that were wound on have nothing to pull at for two rows: hold the fabric down with your \
         hand, or hang a strip of it and the weight on that.",
    ],
    mind: "Too much weight pulls the stitches long and splits thin yarn. Where loops pile up on a needle \
           there is too little. Take the weights off before a child or a cat gets at them.",
};

const WASTE_CAST_ON: Words = Words {
    title: "Cast on with waste yarn",
    when: "For an edge whose loops are wanted again: to be grafted, hung or knitted from.",
    steps: &[
        "Take yarn of the same thickness, smooth, in a colour that is nowhere in the garment.",
        "Bring the needles to working position, lay the yarn over every other one, and knit a row; now \
         all needles, and knit six to eight rows. Hang the weights.",
        "Knit one row with a ravel cord, or with a smooth contrasting thread, if you have one: pulled out \
         later it lets the waste yarn go in one piece.",
        "Thread the good yarn and leave an end as long as your hand. The first row of it holds the loops that wait.",
    ],
    mind: "Don't cut the waste yarn away before the loops are on needles or sewn: a row at a time is undone \
           as you go.",
};

const RIB_CAST_ON: Words = Words {
    title: "Cast on for a rib",
    when: "For a closed, springy edge on two beds.",
    steps: &[
        "Set the needles of both beds as the pattern says and the beds so that each needle that knits faces \
         an empty one of the other bed.",
        "With the smallest stitch size knit the zigzag row, from the left to the right: the yarn goes from \
         bed to bed.",
        "Push the comb up between the beds, run its wire through above the yarn, and hang the weights.",
        "Two tubular rows: each bed knits one way only. Their stitch size is a little larger than the \
         zigzag's; then set the size of the rib and both beds to knit.",
    ],
    mind: "A zigzag row that is too loose makes an edge that frills. When the last row of the rib is done and \
           the ribber is lowered, cover it with a cloth or a strip of card so that nothing catches in its \
           hooks.",
};

const WOUND_CAST_ON: Words = Words {
    title: "Cast on by winding",
    when: "For new stitches beside others, or where no waste yarn is wanted.",
    steps: &[
        "Bring the empty needles to holding position.",
        "From the side on which the yarn hangs, wind it round each needle: under it from behind, over it, \
         and on to the next, the same way round each time.",
        "Push the loops back behind the latches. Knit the first two rows slowly with a hand on the fabric.",
    ],
    mind: "Wound tightly, the first row will not pass. Loose loops can be drawn up afterwards.",
};

const SHORT_ROWS: Words = Words {
    title: "Short rows: hold and wrap",
    when: "Where only some needles knit: wedges, heels, sloping shoulders, a neck.",
    steps: &[
        "Push the needles that rest to holding position, on the side away from the carriage, and set the \
         hold lever.",
        "Knit a row. The carriage must go past the last needle that knits, far enough to be clear of it, \
         and no farther than needed.",
        "Wrap: lay the yarn under the stem of the nearest held needle, between it and the next, so that it \
         comes up on the other side. It is caught and closes the slit of the turn.",
        "Knit back. The wrap lies round the held needle, and is knitted together with its stitch later.",
    ],
    mind: "Where held needles lie between the carriage and the work, the first row must not pull the yarn \
           across them: lead it underneath by hand and hold it down until the first stitches are made.",
};

const BACK_TO_WORK: Words = Words {
    title: "Held needles back to work",
    when: "When short rows grow again.",
    steps: &[
        "Wait until the carriage is on the other side of the work, where the pattern allows it: then no \
         yarn lies across the needle that comes back.",
        "With a transfer tool or a pusher move the needle to upper working position: its stitch behind the \
         open latch. Don't let the wrap slip off.",
        "Where the needle comes back on the carriage's own side, keep the yarn under it: lift the yarn out \
         of the way, move the needle, and lay the yarn down again before the wrap.",
        "Knit the row: the needle knits its stitch and its wrap together.",
    ],
    mind: "A loop that lies in front of the hook when the row comes is a tuck nobody asked for.",
};

const HANG: Words = Words {
    title: "Hang an edge as you knit",
    when: "To join a finished edge to the side of a piece while that grows.",
    steps: &[
        "Lay the edge beside the work, turned as the pattern says. Count its loops before you begin.",
        "Undo two or three stitches of the waste yarn. With a transfer tool take the next open loop, through \
         its middle, and put it on the needle named, on top of the stitch there.",
        "Push the needle to upper working position, so that both loops lie behind the latch.",
        "Knit the row: both come off as one. Look each time that the loop is caught, the first one and the \
         last one most of all.",
    ],
    mind: "A loop that fell is caught with a safety pin at once: one loop down the edge it becomes a ladder. \
           Move the weight at the edge with each wedge, or the joined side hangs long.",
};

const TAKE_IN: Words = Words {
    title: "Take in: fewer stitches",
    when: "Where a piece becomes narrower.",
    steps: &[
        "Plain: with a one-eyed tool put the end stitch on its neighbour, and push the empty needle back to \
         non-working position.",
        "Some stitches in (fashioned): take as many end stitches as the pattern says on a tool with as many \
         eyes, move them all one needle inwards, and push the end needle back. The edge stays whole.",
        "Push the needle with two stitches to upper working position before the row: thick stitches knit \
         easier from there.",
    ],
    mind: "Do it on the side away from the carriage, or while the yarn hangs slack, so that the end stitch has \
           yarn to give.",
};

const BRING_IN: Words = Words {
    title: "Bring in: more stitches",
    when: "Where a piece becomes wider.",
    steps: &[
        "Plain: push an empty needle beside the end one to working position; the next row that reaches it \
         makes a loop on it. On the carriage's side it is caught at once.",
        "Some stitches in (fashioned): move the end stitches outwards by one needle with a tool of as many \
         eyes. A needle is empty now.",
        "Lift the purl bump of the stitch beside the gap onto the empty needle, so that no hole stays.",
    ],
    mind: "Left empty, that needle makes an eyelet: pretty where it is meant.",
};

const TRANSFER: Words = Words {
    title: "Move loops to other needles",
    when: "From the ribber to the main bed at the end of a rib, for eyelets and for crossing.",
    steps: &[
        "Pull the needle that gives well out, so that its loop slides behind the latch, then push it back: \
         the loop closes the latch and comes onto the tool's eye.",
        "Hold the tool's eye to the hook of the needle that takes, tilt it, and let the loop over.",
        "From the ribber: to the empty main-bed needle that stands facing it, or to the one beside it where \
         the beds stand half a pitch apart. Bring the beds back to full pitch first where the pattern says so.",
        "When all loops are over, lower the ribber and cover it.",
    ],
    mind: "Count the stitches afterwards: one that was missed drops through the whole rib.",
};

const LATCH_UP: Words = Words {
    title: "Rib by hand: latch up",
    when: "For a rib on a machine with one bed.",
    steps: &[
        "Knit the rib's rows plain, a size tighter than the plain fabric.",
        "Drop one column of those that turn to the other side, down to the first row of the rib and no \
         farther: hold it there with the latch tool.",
        "From the other face, catch the lowest ladder with the latch tool, pull it through the loop, and so \
         up to the top. Hang the loop back on its needle.",
        "One column after the other, every second one for a rib of one and one.",
    ],
    mind: "Leave the edge stitches as they are, so that they can be seamed.",
};

const SCRAP_OFF: Words = Words {
    title: "Take off on waste yarn",
    when: "Where loops wait open, for grafting or for hanging back.",
    steps: &[
        "Break the good yarn where the pattern says so and leave the end that it asks for.",
        "Thread waste yarn of a colour that is nowhere in the garment. Knit six to eight rows over the \
         needles that are taken off, the others held.",
        "Take the yarn out of the carriage and pass it over once more: the fabric drops off. Hold it, so that \
         it comes down slowly.",
        "Press the waste rows with the hand, or leave them rolled: they keep the loops from running.",
    ],
    mind: "Fewer than six rows curl up and lose loops.",
};

const REHANG: Words = Words {
    title: "Hang loops back",
    when: "To knit on from an edge that waits.",
    steps: &[
        "Bring as many needles as there are loops to holding position.",
        "Fold the waste yarn back: the loops of the last good row stand up between it and the fabric.",
        "Put each loop on its needle with a tool, the first where the pattern says. None may be twisted: the \
         right half of each loop stays on the right.",
        "When all are on, count them; then take the waste yarn out and push the needles back to working \
         position.",
    ],
    mind: "At the two ends look for half loops: the first and the last belong to the edge.",
};

const PICK_UP: Words = Words {
    title: "Pick up along an edge",
    when: "For a band along a neck, a front or a side.",
    steps: &[
        "Mark the middle of the edge, and its quarters, with threads; mark the same on the needles.",
        "Hang the marks first, then what lies between, spread evenly. Along a side take the whole edge \
         stitch, not half of it: a line stays.",
        "Where the edge has more places than there are needles, put two on one needle; where it has fewer, \
         hang one place twice.",
    ],
    mind: "Stretch the edge as little as you can: what is hung stretched puckers later.",
};

const CAST_OFF: Words = Words {
    title: "Cast off",
    when: "To close stitches for good.",
    steps: &[
        "Begin on the carriage's side. Put the end stitch on the next needle, beside the stitch there.",
        "Pull that needle out, lay the yarn into its hook, and draw it through both: a new stitch, as large \
         as one of the fabric.",
        "Go on needle by needle. To keep the edge even lead each stitch round a gate peg before the next.",
        "Draw the end through the last one.",
    ],
    mind: "Cast off tightly and the edge will not stretch over a head or a hand: try before you darn in.",
};

const GRAFT: Words = Words {
    title: "Graft two open edges",
    when: "To join loops to loops so that no seam shows.",
    steps: &[
        "Lay the edges one above the other, right sides up, the waste yarn folded under. Thread a blunt \
         needle with the end, three times as long as the edge.",
        "Come up through the first loop of the lower edge. Into the first loop of the upper edge from above \
         and out of the next one from below.",
        "Back into the lower loop you came from, from above, and out of the next one from below. So on in \
         turn: every loop is passed twice.",
        "Draw the yarn so that the new row is as large as the others. Take the waste yarn out once the loops \
         are held.",
    ],
    mind: "In a piece of short rows the loops of one edge may stand farther apart than those of the other, \
           past the turn to the top: go on loop for loop, and the fabric evens out when it is washed.",
};

const SEAM: Words = Words {
    title: "Sew a seam",
    when: "To join two sides, row to row.",
    steps: &[
        "Lay the pieces side by side, right sides up. Begin with the end that hangs at the edge.",
        "Between the edge stitch and the next one lie rungs. Take up two rungs on one side, then two on the \
         other, straight across.",
        "Every few stitches draw the yarn: the edges roll in and the seam closes like a zip.",
        "Where one side has more rows take two rungs there against one, spread over the seam.",
    ],
    mind: "For a seam that must stretch, draw only until the edges touch.",
};

const GATHER: Words = Words {
    title: "Draw an edge together",
    when: "To close a tip or the centre of a round top.",
    steps: &[
        "Thread a blunt needle with an end longer than the edge by the length of your forearm.",
        "Run it through every loop, or through every second edge stitch along a side.",
        "Pull until no hole is left, go round once more and a stitch or two farther, and pull again.",
        "Take the end to the inside, sew it round the centre, and darn it in.",
    ],
    mind: "A thin or worn yarn breaks when it is pulled: use a stronger thread of the same colour.",
};

const CORNER: Words = Words {
    title: "Close a corner",
    when: "Where a heel, a thumb or an opening meets the rest, a small gap stays.",
    steps: &[
        "Turn the work inside out and find the gap: two long threads that cross nothing.",
        "With an end take up the four stitches round it, one after the other.",
        "Draw the ring together until the fabric lies flat, and fasten off on the inside.",
    ],
    mind: "Draw too tightly and a dent takes the place of the hole.",
};
