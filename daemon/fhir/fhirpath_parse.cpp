#include "fhir/decimal.h"
#include "fhir/fhirpath.h"
#include "fhir/fhirpath_tree.h"

#include <algorithm>
#include <optional>

namespace fhir {
namespace {

using path::Node;
using path::NodePtr;
using path::Operation;

constexpr std::size_t kLongest = 1000;  // bytes of an expression
constexpr int kDepth = 24;              // parentheses in parentheses

struct Function {
  std::string_view name;
  Operation what;
  int least, most;  // arguments
};
constexpr Function kFunctions[] = {{"where", Operation::where, 1, 1},          {"exists", Operation::exists, 0, 1},         {"empty", Operation::empty, 0, 0},
                                   {"first", Operation::first, 0, 0},          {"last", Operation::last, 0, 0},             {"not", Operation::negate, 0, 0},
                                   {"ofType", Operation::of_type, 1, 1},       {"extension", Operation::extension, 1, 1},   {"resolve", Operation::resolve, 0, 0},
                                   {"startsWith", Operation::starts_with, 1, 1}, {"endsWith", Operation::ends_with, 1, 1}, {"contains", Operation::contains, 1, 1}};

bool is_name_start(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

class Parser {
 public:
  explicit Parser(std::string_view text) : text_(text) {}

  boost::system::result<NodePtr, FhirPath::Fault> whole() {
    if (text_.size() > kLongest) fail("the expression is longer than " + std::to_string(kLongest) + " bytes");
    auto root = either(0);
    skip();
    if (!fault_ && at_ < text_.size()) fail("\"" + std::string(text_.substr(at_, 12)) + "\" is not understood here");
    if (fault_) return *fault_;
    return root;
  }

 private:
  NodePtr fail(std::string text) {
    if (!fault_) fault_ = FhirPath::Fault{at_ + 1, std::move(text)};
    return std::make_shared<Node>();
  }
  void skip() {
    while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\t' || text_[at_] == '\n')) ++at_;
  }
  bool take(std::string_view sign) {
    skip();
    if (!text_.substr(at_).starts_with(sign)) return false;
    at_ += sign.size();
    return true;
  }
  bool take_word(std::string_view word) {
    skip();
    const auto end = at_ + word.size();
    if (!text_.substr(at_).starts_with(word) || (end < text_.size() && (is_name_start(text_[end]) || is_digit(text_[end])))) return false;
    at_ = end;
    return true;
  }

  static NodePtr joined(Operation what, NodePtr a, NodePtr b) {
    auto node = std::make_shared<Node>();
    node->what = what;
    node->arguments = {std::move(a), std::move(b)};
    return node;
  }

  NodePtr either(int depth) {
    if (depth > kDepth) return fail("parentheses are nested deeper than " + std::to_string(kDepth));
    auto node = both(depth);
    while (!fault_ && take_word("or")) node = joined(Operation::either, node, both(depth));
    return node;
  }
  NodePtr both(int depth) {
    auto node = compared(depth);
    while (!fault_ && take_word("and")) node = joined(Operation::both, node, compared(depth));
    return node;
  }
  NodePtr compared(int depth) {
    auto node = together(depth);
    while (!fault_) {
      if (take("!=")) node = joined(Operation::differs, node, together(depth));
      else if (take("=")) node = joined(Operation::equals, node, together(depth));
      else break;
    }
    return node;
  }
  NodePtr together(int depth) {
    auto node = steps(depth);
    while (!fault_ && take("|")) node = joined(Operation::together, node, steps(depth));
    return node;
  }

  NodePtr steps(int depth) {
    auto node = start(depth);
    while (!fault_) {
      if (take(".")) node = invocation(node, depth);
      else if (take("[")) node = indexed(node);
      else break;
    }
    return node;
  }

  NodePtr indexed(NodePtr input) {
    skip();
    std::size_t index = 0;
    const auto from = at_;
    for (; at_ < text_.size() && is_digit(text_[at_]) && at_ - from < 6; ++at_) index = index * 10 + static_cast<std::size_t>(text_[at_] - '0');
    if (at_ == from || !take("]")) return fail("a whole number and ] are needed here");
    auto node = std::make_shared<Node>();
    node->what = Operation::index;
    node->index = index;
    node->input = std::move(input);
    return node;
  }

  NodePtr start(int depth) {
    skip();
    if (at_ >= text_.size()) return fail("something is missing here");
    if (take("(")) {
      auto inner = either(depth + 1);
      return fault_ || take(")") ? inner : fail("a ) is missing here");
    }
    if (text_[at_] == '\'') return literal_text();
    if (is_digit(text_[at_]) || text_[at_] == '-') return literal_number();
    if (take_word("true")) return literal(json::Value(true));
    if (take_word("false")) return literal(json::Value(false));
    if (take_word("$this")) return std::make_shared<Node>();
    return invocation(nullptr, depth);
  }

  NodePtr literal(json::Value value) {
    auto node = std::make_shared<Node>();
    node->what = Operation::literal;
    node->value = std::move(value);
    return node;
  }
  NodePtr literal_text() {
    std::string text;
    const auto from = at_++;
    for (; at_ < text_.size() && text_[at_] != '\''; ++at_) {
      if (text_[at_] == '\\') {
        const auto next = at_ + 1 < text_.size() ? text_[at_ + 1] : '\0';
        if (next != '\'' && next != '\\' && next != '"') return fail("only \\' \\\" and \\\\ may follow a backslash");
        ++at_;
      }
      text += text_[at_];
    }
    if (at_ >= text_.size()) {
      at_ = from;
      return fail("this text does not end");
    }
    ++at_;
    return literal(json::Value(std::move(text)));
  }
  NodePtr literal_number() {
    auto end = at_ + (text_[at_] == '-' ? 1U : 0U);
    while (end < text_.size() && is_digit(text_[end])) ++end;
    if (end + 1 < text_.size() && text_[end] == '.' && is_digit(text_[end + 1]))
      for (++end; end < text_.size() && is_digit(text_[end]);) ++end;
    const auto digits = text_.substr(at_, end - at_);
    if (!json::is_number_text(digits)) return fail("a number is needed here");
    at_ = end;
    return literal(json::Value::decimal(digits));
  }

  std::string name() {
    skip();
    if (take("`")) {
      const auto end = text_.find('`', at_);
      if (end == std::string_view::npos) return fail("this name does not end"), std::string();
      std::string quoted(text_.substr(at_, end - at_));
      at_ = end + 1;
      return quoted;
    }
    const auto from = at_;
    while (at_ < text_.size() && (is_name_start(text_[at_]) || (at_ > from && is_digit(text_[at_])))) ++at_;
    if (at_ == from) fail("a name is needed here");
    return std::string(text_.substr(from, at_ - from));
  }

  NodePtr invocation(NodePtr input, int depth) {
    skip();
    const auto from = at_;
    auto node = std::make_shared<Node>();
    node->what = Operation::member;
    node->input = std::move(input);
    node->name = name();
    if (fault_ || !take("(")) return node;
    const auto* function = std::ranges::find(kFunctions, std::string_view(node->name), &Function::name);
    if (function == std::end(kFunctions)) {
      at_ = from;
      return fail("the function " + node->name + "() is not known here");
    }
    node->what = function->what;
    if (function->what == Operation::of_type) {
      node->name = name();
      if (node->name == "FHIR" && take(".")) node->name = name();
    } else {
      arguments(*node, depth);
    }
    if (!fault_ && !take(")")) return fail("a ) is missing here");
    const auto given = static_cast<int>(function->what == Operation::of_type ? 1 : node->arguments.size());
    if (!fault_ && (given < function->least || given > function->most)) {
      at_ = from;
      return fail(std::string(function->name) + "() has another number of arguments");
    }
    return node;
  }
  void arguments(Node& node, int depth) {
    skip();
    if (at_ < text_.size() && text_[at_] == ')') return;
    do node.arguments.push_back(either(depth + 1));
    while (!fault_ && take(","));
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::optional<FhirPath::Fault> fault_;
};

}  // namespace

boost::system::result<FhirPath, FhirPath::Fault> FhirPath::parse(std::string_view expression) {
  auto root = Parser(expression).whole();
  if (!root) return root.error();
  FhirPath path;
  path.written_ = expression;
  path.root_ = std::move(*root);
  return path;
}

}  // namespace fhir
