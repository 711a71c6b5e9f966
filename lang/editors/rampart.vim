" Vim syntax file: Rampart profiles (*.ramp). Made from the grammar: build the target `editor_words`.
if exists("b:current_syntax")
  finish
endif
syn case match
syn match rampartWord /\<\%(after\|always\|and\|assume\|at\|because\|before\|by\|cc\|ceiling\|falls\|from\|fuse\|high\|in\|input\|linked\|low\|no\|not\|operator\|or\|output\|over\|overpower\|overtemperature\|overvoltage\|remote\|reversed\|rises\|scaled\|sense\|to\|trip\|under\|when\|while\|with\|within\)\>/
syn keyword rampartStatement await do dwell for limit lower mark measure off on pulse raise ramp repeat step together track waveform
syn match rampartDeclaration /^\s*\zs\%(accept\|bench\|expect\|import\|let\|line\|load\|param\|profile\|protect\|rail\|rule\|run\|safe\|sequence\)\>/
syn match rampartFunction /\<\%(abs\|cc_time\|charge\|current\|duration\|energy\|max\|min\|peak_current\|peak_power\|peak_voltage\|power\|slew\|voltage\)\ze(/
syn match rampartNumber /\<\d\+\%(\.\d\+\)\=\%(\s*\%(MOhm\|degC\|kOhm\|mOhm\|nOhm\|pOhm\|uOhm\|µOhm\|μOhm\|MAh\|MHz\|MWh\|Ohm\|kAh\|kHz\|kWh\|mAh\|mHz\|mWh\|min\|nAh\|nHz\|nWh\|pAh\|pHz\|pWh\|uAh\|uHz\|uWh\|µAh\|µHz\|µWh\|μAh\|μHz\|μWh\|Ah\|Hz\|MA\|MC\|MF\|MH\|MJ\|MV\|MW\|Ms\|MΩ\|MΩ\|Wh\|kA\|kC\|kF\|kH\|kJ\|kV\|kW\|ks\|kΩ\|kΩ\|mA\|mC\|mF\|mH\|mJ\|mV\|mW\|ms\|mΩ\|mΩ\|nA\|nC\|nF\|nH\|nJ\|nV\|nW\|ns\|nΩ\|nΩ\|pA\|pC\|pF\|pH\|pJ\|pV\|pW\|ps\|pΩ\|pΩ\|uA\|uC\|uF\|uH\|uJ\|uV\|uW\|us\|uΩ\|uΩ\|µA\|µC\|µF\|µH\|µJ\|µV\|µW\|µs\|µΩ\|µΩ\|μA\|μC\|μF\|μH\|μJ\|μV\|μW\|μs\|μΩ\|μΩ\|%\|A\|C\|F\|H\|J\|K\|V\|W\|d\|h\|s\|Ω\|Ω\)\%(\/\%(MOhm\|degC\|kOhm\|mOhm\|nOhm\|pOhm\|uOhm\|µOhm\|μOhm\|MAh\|MHz\|MWh\|Ohm\|kAh\|kHz\|kWh\|mAh\|mHz\|mWh\|min\|nAh\|nHz\|nWh\|pAh\|pHz\|pWh\|uAh\|uHz\|uWh\|µAh\|µHz\|µWh\|μAh\|μHz\|μWh\|Ah\|Hz\|MA\|MC\|MF\|MH\|MJ\|MV\|MW\|Ms\|MΩ\|MΩ\|Wh\|kA\|kC\|kF\|kH\|kJ\|kV\|kW\|ks\|kΩ\|kΩ\|mA\|mC\|mF\|mH\|mJ\|mV\|mW\|ms\|mΩ\|mΩ\|nA\|nC\|nF\|nH\|nJ\|nV\|nW\|ns\|nΩ\|nΩ\|pA\|pC\|pF\|pH\|pJ\|pV\|pW\|ps\|pΩ\|pΩ\|uA\|uC\|uF\|uH\|uJ\|uV\|uW\|us\|uΩ\|uΩ\|µA\|µC\|µF\|µH\|µJ\|µV\|µW\|µs\|µΩ\|µΩ\|μA\|μC\|μF\|μH\|μJ\|μV\|μW\|μs\|μΩ\|μΩ\|%\|A\|C\|F\|H\|J\|K\|V\|W\|d\|h\|s\|Ω\|Ω\)\)\=\w\@!\)\=/
syn match rampartEscape /\\["\\]/ contained
syn region rampartText start=/"/ skip=/\\["\\]/ end=/"\|$/ contains=rampartEscape
syn match rampartComment /#.*/
hi def link rampartDeclaration Structure
hi def link rampartStatement Statement
hi def link rampartWord Keyword
hi def link rampartFunction Function
hi def link rampartNumber Number
hi def link rampartText String
hi def link rampartEscape SpecialChar
hi def link rampartComment Comment
let b:current_syntax = "rampart"
