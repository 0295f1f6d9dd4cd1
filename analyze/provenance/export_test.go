package provenance

var AlgorithmOf, Constants = algorithm, constants

const CodeVersion = codeVersion
