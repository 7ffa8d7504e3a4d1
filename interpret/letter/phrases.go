package letter

// The fixed phrases of the letter in one place: a test measures how hard
// they are to read, and another language is another set of them.
const (
	sayNotYet     = "We cannot give you advice on this sample yet."
	saySeeBelow   = "Please read what we need from you, below."
	sayPartOpen   = "We need one thing from you before we can finish: please see below."
	sayNoFood     = "Do not grow food in this soil, because the lead in it is too high."
	sayCallHealth = "Call your county health department before you do anything else here."
	sayLead       = "The lead in this soil is high enough to take care."
	sayLime       = "Your soil is too acid, so lime comes first."
	sayNoneNow    = "Add no lime and no fertilizer for now."
	sayNoFeed     = "It needs no fertilizer."
	sayNoFeedNow  = "Add no fertilizer for now."
	sayPartOnly   = "This report tells us only a part of what we need to know."
	saySulfur     = "Your soil is too sweet for what you grow, so sulfur comes first."
	sayLimeOpen   = "Your soil is too acid, but we cannot yet say how much lime it needs."
	sayGood       = "Your soil is in good shape."
	sayFair       = "Your soil needs a little help."
	sayNothing    = "It needs no lime and no fertilizer."
	sayLeave      = "Leave this bed as it is."
	sayPicture    = "In each picture the mark is your soil. The shaded part is where it should be."
	sayPHOnce     = "The pH tells how acid the soil is. Below 7 is acid, above 7 is sweet (alkaline)."
	sayTrace      = "Quote this number if you call, and we can trace every figure in this letter."
	sayGuidance   = "This is general guidance. Licensed people and local codes come first."
	sayRounded    = "Amounts are rounded to what you can weigh."
	sayNoAge      = "This letter has no date, so we did not check how old the sample is."
	sayEstimated  = "We worked out by a published equation what the other test would show. That is an estimate and no measurement. Please call us before you spend much money on it."
	sayDiffer     = "the laboratory uses another word than we do. It rates by its own scale, for its own region and crops. Our tables draw their lines elsewhere."
	sayRest       = "Also measured, and no part of our advice: "
	sayShallow    = "Sample the same places, to the same depth, at the same time of year."
)

// FixedPhrases are the sentences of the letter that do not depend on a
// record.
func FixedPhrases() []string {
	return []string{sayNotYet, saySeeBelow, sayPartOpen, sayNoFood, sayCallHealth, sayLead, sayLime, saySulfur, sayLimeOpen, sayGood, sayFair,
		sayRest, sayNothing, sayNoneNow, sayNoFeed, sayNoFeedNow, sayPartOnly, sayLeave, sayPicture, sayPHOnce, sayTrace, sayGuidance, sayRounded, sayNoAge, sayShallow, sayEstimated, sayDiffer}
}

// className says a class so that it can't be misread.
var className = map[string]string{
	"very low": "Very low", "low": "Low", "medium": "Medium, a little short", "optimum": "Optimum, enough",
	"above optimum": "High, more than enough", "excessive": "Very high, more than enough",
	"too acid": "Too acid", "in range": "Right", "too alkaline": "Above the range, sweet",
}

// organicName says a class of organic matter, where more is seldom too much.
var organicName = map[string]string{
	"very low": "Very low", "low": "Low", "medium": "Medium", "optimum": "Good", "above optimum": "Rich", "excessive": "Rich",
}

var traceName = map[string]string{"low": "Low", "optimum": "Enough", "above optimum": "High, ask us"}
