// An expression taken apart. Inside fhir only.
#pragma once

#include "json/tree.h"

#include <memory>
#include <string>
#include <vector>

namespace fhir::path {

enum class Operation {
  literal, self, member, index, equals, differs, both, either, together,  // together: |
  where, exists, empty, first, last, negate, of_type, extension, resolve, starts_with, ends_with, contains
};

// `input` is what stands before the dot (null: the item in focus), `arguments` what stands in the parentheses or on both sides of an operator.
struct Node {
  Operation what = Operation::self;
  std::string name;       // member, of_type
  json::Value value;      // literal
  std::size_t index = 0;
  std::shared_ptr<const Node> input;
  std::vector<std::shared_ptr<const Node>> arguments;
};
using NodePtr = std::shared_ptr<const Node>;

}  // namespace fhir::path
