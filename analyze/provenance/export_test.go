package provenance

var AlgorithmOf, Constants = algorithm, constants

const Measures = measures
