"""Pages of recall: parse, call one act, answer. The page of a gauge is the desk's; what recall adds is its panel."""
