#include "fhir/fhirpath.h"

#include "fhir/decimal.h"
#include "fhir/fhirpath_tree.h"

#include <algorithm>
#include <array>
#include <optional>

namespace fhir {
namespace {

using path::Node;
using path::Operation;

// One thing selected. `type`: of a choice element, by its name ("Quantity", "string"); of a resource; else empty.
struct Item {
  const json::Value* value;
  std::string type;
};
using Items = std::vector<Item>;

// The types that follow the stem of a choice element.
constexpr auto kChoiceTypes = std::to_array<std::string_view>(
    {"Quantity", "CodeableConcept", "String", "Boolean", "Integer", "DateTime", "Period", "Range", "Ratio", "Time", "SampledData", "Code", "Coding", "Reference", "Uri",
     "Url", "Canonical", "Date", "Instant", "Decimal", "Age", "Timing", "Duration", "Identifier", "Attachment", "Annotation", "Id", "Markdown", "Money", "PositiveInt",
     "UnsignedInt", "Base64Binary", "Count", "Distance", "HumanName", "Address", "ContactPoint", "Dosage", "CodeableReference", "Signature", "Expression"});
constexpr auto kPrimitives = std::to_array<std::string_view>({"String", "Boolean", "Integer", "DateTime", "Time", "Code", "Uri", "Url", "Canonical", "Date", "Instant", "Decimal",
                                                              "Id", "Markdown", "PositiveInt", "UnsignedInt", "Base64Binary"});

std::string type_named(std::string_view suffix) {
  std::string type(suffix);
  if (std::ranges::find(kPrimitives, suffix) != kPrimitives.end()) type.front() = static_cast<char>(type.front() - 'A' + 'a');
  return type;
}

void add(const json::Value& value, const std::string& type, Items& to) {
  if (value.is_array()) {
    for (const auto& item : value.items())
      if (!item.is_null()) to.push_back({&item, type});
  } else if (!value.is_null()) {
    to.push_back({&value, type.empty() ? std::string(value["resourceType"].text()) : type});
  }
}

class Evaluation {
 public:
  explicit Evaluation(const FhirPath::Resolve& resolve) : resolve_(resolve) {}

  Items of(const Node& node, const Items& focus, bool at_root) {
    const Items input = node.input ? of(*node.input, focus, at_root) : focus;
    const bool first_name = at_root && !node.input;
    switch (node.what) {
      case Operation::literal: return {{&node.value, ""}};
      case Operation::self: return input;
      case Operation::member: return members(input, node.name, first_name);
      case Operation::index: return node.index < input.size() ? Items{input[node.index]} : Items{};
      case Operation::first: return input.empty() ? Items{} : Items{input.front()};
      case Operation::last: return input.empty() ? Items{} : Items{input.back()};
      case Operation::where: return kept(node, input);
      case Operation::exists: return truth(!(node.arguments.empty() ? input : kept(node, input)).empty());
      case Operation::empty: return truth(input.empty());
      case Operation::negate: return truth(negated(boolean(input)));
      case Operation::of_type: return typed(input, node.name);
      case Operation::extension: return extensions(input, text(argument(node, 0, focus, at_root)));
      case Operation::resolve: return resolved(input);
      case Operation::together: return joined(node, focus, at_root);
      default: return judged(node, input, focus, at_root);
    }
  }

 private:
  Items argument(const Node& node, std::size_t i, const Items& focus, bool at_root) { return of(*node.arguments[i], focus, at_root); }

  Items judged(const Node& node, const Items& input, const Items& focus, bool at_root) {
    const auto a = argument(node, 0, focus, at_root);
    if (node.what == Operation::starts_with || node.what == Operation::ends_with || node.what == Operation::contains) return truth(compared_text(node.what, text(input), text(a)));
    const auto b = argument(node, 1, focus, at_root);
    if (node.what == Operation::equals) return truth(equal(a, b));
    if (node.what == Operation::differs) return truth(negated(equal(a, b)));
    const auto x = boolean(a), y = boolean(b);
    const bool decides = node.what == Operation::either;  // true decides "or", false decides "and"; with nothing known there is no answer
    if (x == decides || y == decides) return truth(decides);
    return x && y ? truth(!decides) : Items{};
  }

  static Items truth(std::optional<bool> value) {
    static const json::Value yes(true), no(false);
    return value ? Items{{*value ? &yes : &no, "boolean"}} : Items{};
  }
  static std::optional<bool> negated(std::optional<bool> value) { return value ? std::optional(!*value) : value; }

  // One item that is no boolean counts as true, as FHIRPath has it.
  static std::optional<bool> boolean(const Items& items) {
    if (items.size() != 1) return std::nullopt;
    return items.front().value->is_bool() ? items.front().value->boolean() : true;
  }
  static std::optional<std::string> text(const Items& items) {
    if (items.size() != 1 || !items.front().value->is_string()) return std::nullopt;
    return std::string(items.front().value->text());
  }
  static std::optional<bool> compared_text(Operation what, const std::optional<std::string>& whole, const std::optional<std::string>& part) {
    if (!whole || !part) return std::nullopt;
    if (what == Operation::starts_with) return whole->starts_with(*part);
    return what == Operation::ends_with ? whole->ends_with(*part) : whole->find(*part) != std::string::npos;
  }

  static bool same(const json::Value& a, const json::Value& b) {
    if (!a.is_number() || !b.is_number()) return a == b;
    const auto x = Decimal::parse(a.digits()), y = Decimal::parse(b.digits());
    return x && y && *x == *y;
  }
  static std::optional<bool> equal(const Items& a, const Items& b) {
    if (a.empty() || b.empty()) return std::nullopt;
    return std::ranges::equal(a, b, [](const Item& x, const Item& y) { return same(*x.value, *y.value); });
  }

  // At the root the first name may be the type of the resource.
  static Items members(const Items& input, const std::string& name, bool first_name) {
    Items found;
    for (const auto& item : input) {
      if (first_name && item.value->has("resourceType") && (*item.value)["resourceType"].text() == name) found.push_back(item);
      else member_of(*item.value, name, found);
    }
    return found;
  }
  static void member_of(const json::Value& value, const std::string& name, Items& found) {
    if (const auto* direct = value.find(name)) return add(*direct, "", found);
    for (const auto& member : value.members()) {
      if (!member.name.starts_with(name)) continue;
      const auto suffix = std::string_view(member.name).substr(name.size());
      if (std::ranges::find(kChoiceTypes, suffix) != kChoiceTypes.end()) add(member.value, type_named(suffix), found);
    }
  }

  Items kept(const Node& node, const Items& input) {
    Items kept_items;
    for (const auto& item : input)
      if (boolean(of(*node.arguments.front(), {item}, false)) == true) kept_items.push_back(item);
    return kept_items;
  }
  static Items typed(const Items& input, const std::string& type) {
    Items found;
    std::ranges::copy_if(input, std::back_inserter(found), [&](const Item& item) { return item.type == type; });
    return found;
  }
  static Items extensions(const Items& input, const std::optional<std::string>& url) {
    Items found;
    for (const auto& item : input)
      for (const auto& one : (*item.value)["extension"].items())
        if (url && one["url"].text() == *url) found.push_back({&one, "Extension"});
    return found;
  }
  Items resolved(const Items& input) {
    Items found;
    for (const auto& item : input)
      if (const auto* target = resolve_ ? resolve_(*item.value) : nullptr) add(*target, "", found);
    return found;
  }
  // Each different one once.
  Items joined(const Node& node, const Items& focus, bool at_root) {
    Items found;
    for (std::size_t i = 0; i < 2; ++i)
      for (const auto& item : argument(node, i, focus, at_root))
        if (std::ranges::none_of(found, [&](const Item& known) { return same(*known.value, *item.value); })) found.push_back(item);
    return found;
  }

  const FhirPath::Resolve& resolve_;
};

}  // namespace

std::vector<json::Value> FhirPath::evaluate(const json::Value& resource, const Resolve& resolve) const {
  std::vector<json::Value> values;
  Items root;
  add(resource, "", root);
  for (const auto& item : Evaluation(resolve).of(*root_, root, true)) values.push_back(*item.value);
  return values;
}

}  // namespace fhir
