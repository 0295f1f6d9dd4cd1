package words

// TargetZone is what texts for everybody call the kern of a platform.
const TargetZone = "target zone"

// Kern is what legends and texts call the kern where they first name it.
const Kern = TargetZone + " (kern)"

// KernIs says in a few words what the kern is.
const KernIs = "from there the whole of a flat platform carries load"
