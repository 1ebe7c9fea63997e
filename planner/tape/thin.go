package tape

// Thin tape: where care begins. Four owner manuals and workshop charts refuse
// or advise against the C120, which is 9 um thick; none names a thickness, so
// the bounds are common practice, no source.
const (
	NoteThinner    Micrometres = 12 // thinner than this: worth a note
	CautionThinner Micrometres = 10 // thinner than this: worth a caution
)

// ThinTailRadius is the supply pack's radius under which the end of a side on
// thin tape is not to be trusted: about the last tenth of the side. Common
// practice, no source.
const ThinTailRadius Millimetres = 13

// DefaultCounterRatio is the counts a turn of the take-up hub makes until a
// deck was calibrated: from memory, unverified. One data recorder measured
// 0.525 (a published counter note).
const DefaultCounterRatio = 0.5
