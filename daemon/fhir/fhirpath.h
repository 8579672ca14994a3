// The part of FHIRPath (http://hl7.org/fhirpath, N1) in which a site says where it records a fact:
//   paths by member name (choice elements without their type: value, performed), the resource type as the first name, [n], $this, `quoted names`
//   = and != (numbers by value, everything else as written), and, or, | and parentheses
//   where() exists() empty() first() last() not() ofType() extension() resolve() startsWith() endsWith() contains()
//   literals: 'text', numbers, true, false
// Nothing else: a name, operator or function outside of this is a fault with its column.
#pragma once

#include "json/tree.h"

#include <boost/system/result.hpp>

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace fhir {

namespace path {
struct Node;
}

class FhirPath {
 public:
  struct Fault {
    std::size_t column = 1;  // of the expression, from 1, in bytes
    std::string text;
  };
  static boost::system::result<FhirPath, Fault> parse(std::string_view expression);

  // The target of a Reference element; nullptr when it is not held.
  using Resolve = std::function<const json::Value*(const json::Value& reference)>;
  // What the expression selects in a resource, in order; owns copies. An operator on something it does not fit selects nothing.
  std::vector<json::Value> evaluate(const json::Value& resource, const Resolve& resolve = {}) const;

  const std::string& written() const { return written_; }

 private:
  std::string written_;
  std::shared_ptr<const path::Node> root_;
};

}  // namespace fhir
