#pragma once

#include "lang/syntax/grammar/words.h"

// Values and conditions.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

// One ladder for values and conditions, read flat; the builder knows the precedence.
//
// condition-list = condition { ("and" | "or") condition | (arithmetic | comparison) value }
// value-list     = value { arithmetic value }
const x3::rule<struct ConditionListId> condition_list("condition");
const x3::rule<struct ExpressionId, ast::Expression> expression("expression");
const x3::rule<struct ArithmeticId, ast::Expression> arithmetic("arithmetic");

const NumberWord number;
const OperandName operand_name(Wanted::Value);
const OperandName measured_rail(Wanted::Rail);
const MeasureName measure_name;
const ValueComma value_comma;
const Prefix minus(Operator::Negate);
const Prefix negation(Operator::Not);
const Binary arithmetic_operator(kArithmetic);
const Binary comparison_operator(kComparisons);
const Binary logical_operator(kLogical);

// group = "(" condition-list ")"
const auto group = opening(Operator::Group, parenthesised(need("a value after `(`", condition_list)));

// function = ("min" | "max") "(" condition-list { "," condition-list } ")" | "abs" "(" condition-list ")"
const auto values = parenthesised(need("a value", condition_list) >> *(value_comma >> need("a value", condition_list)));
const auto function = opening(Operator::Minimum, word("min") >> need("`(` and the values after `min`", values)) |
                      opening(Operator::Maximum, word("max") >> need("`(` and the values after `max`", values)) |
                      opening(Operator::Absolute, word("abs") >> need("`(` and a value after `abs`",
                                                                      parenthesised(need("a value", condition_list))));

// measure = ("current" | "power" | "slew") "(" rail ")"
const auto measure = opening(Operator::Measure, measure_name >> parenthesised(need("a rail's name", measured_rail)));

// value = { "-" } (number | group | function | measure | name)
const auto primary = number | group | function | measure | operand_name;
const auto value = (+minus >> need("a value after `-`", primary)) | primary;

// condition = { "not" } value
const auto condition = (+negation >> need("a condition after `not`", value)) | value;

const auto condition_list_def = condition >>
                                *((logical_operator >> need("a condition after `and` or `or`", condition)) |
                                  ((arithmetic_operator | comparison_operator) >>
                                   need("a value after the operator", value)));
const auto expression_def = built(condition_list);
const auto arithmetic_def = built(value >> *(arithmetic_operator >> need("a value after the operator", value)));

BOOST_SPIRIT_DEFINE(condition_list, expression, arithmetic)

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
