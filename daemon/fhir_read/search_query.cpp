#include "fhir_read/search_query.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cctype>
#include <map>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/fhirpath.h"
#include "fhir/reference.h"

namespace fhir_read {
namespace {

using json::Value;

// The names and expressions are HL7's (https://hl7.org/fhir/R4/searchparameter-registry.html), but for the one that HL7 does not have in R4.
constexpr std::array kParameters{
    SearchParameter{"CarePlan", "date", "date", "period", ""},
    SearchParameter{"CarePlan", "encounter", "reference", "encounter", ""},
    SearchParameter{"CarePlan", "identifier", "token", "identifier", ""},
    SearchParameter{"CarePlan", "intent", "token", "intent", ""},
    SearchParameter{"CarePlan", "patient", "reference", "subject", ""},
    SearchParameter{"CarePlan", "status", "token", "status", ""},
    SearchParameter{"CarePlan", "subject", "reference", "subject", ""},
    SearchParameter{"DetectedIssue", "author", "reference", "author", ""},
    SearchParameter{"DetectedIssue", "code", "token", "code", ""},
    SearchParameter{"DetectedIssue", "identified", "date", "identified", ""},
    SearchParameter{"DetectedIssue", "identifier", "token", "identifier", ""},
    SearchParameter{"DetectedIssue", "implicated", "reference", "implicated", ""},
    SearchParameter{"DetectedIssue", "patient", "reference", "patient", ""},
    SearchParameter{"GuidanceResponse", "identifier", "token", "identifier", ""},
    SearchParameter{"GuidanceResponse", "patient", "reference", "subject", ""},
    SearchParameter{"GuidanceResponse", "subject", "reference", "subject", ""},
    SearchParameter{"Provenance", "target", "reference", "target", ""},
    SearchParameter{"Task", "authored-on", "date", "authoredOn", ""},
    SearchParameter{"Task", "based-on", "reference", "basedOn", ""},
    SearchParameter{"Task", "code", "token", "code", ""},
    SearchParameter{"Task", "encounter", "reference", "encounter", ""},
    SearchParameter{"Task", "focus", "reference", "focus", ""},
    SearchParameter{"Task", "group-identifier", "token", "groupIdentifier", ""},
    SearchParameter{"Task", "identifier", "token", "identifier", ""},
    SearchParameter{"Task", "intent", "token", "intent", ""},
    SearchParameter{"Task", "modified", "date", "lastModified", ""},
    SearchParameter{"Task", "owner", "reference", "owner", ""},
    SearchParameter{"Task", "patient", "reference", "for", ""},
    SearchParameter{"Task", "performer", "token", "performerType", ""},
    SearchParameter{"Task", "period", "date", "executionPeriod", ""},
    SearchParameter{"Task", "priority", "token", "priority", ""},
    SearchParameter{"Task", "restriction-period", "date", "restriction.period", AFTERSHEATH_BASE "/SearchParameter/task-restriction-period"},
    SearchParameter{"Task", "status", "token", "status", ""},
    SearchParameter{"Task", "subject", "reference", "for", ""},
};

const SearchParameter* parameter_named(std::string_view type, std::string_view name) {
  for (const auto& one : kParameters)
    if (one.type == type && one.name == name) return &one;
  return nullptr;
}

std::vector<Value> selected(const SearchParameter& parameter, const Value& resource) {
  static const auto paths = [] {
    std::map<std::string_view, fhir::FhirPath> all;
    for (const auto& one : kParameters)
      if (auto path = fhir::FhirPath::parse(one.expression); path.has_value()) all.emplace(one.expression, std::move(*path));
    return all;
  }();
  const auto path = paths.find(parameter.expression);
  return path == paths.end() ? std::vector<Value>() : path->second.evaluate(resource);
}

// ---- tokens

struct Code {
  std::string_view system, value;
};

void add_codes(const Value& element, std::vector<Code>& codes) {
  if (element.is_string()) return codes.push_back({"", element.text()});
  if (element.has("coding")) {
    for (const Value& one : element["coding"].items()) codes.push_back({one["system"].text(), one["code"].text()});
    return;
  }
  codes.push_back({element["system"].text(), element.has("value") ? element["value"].text() : element["code"].text()});
}

bool is_token(const Value& element, std::string_view asked) {
  std::vector<Code> codes;
  add_codes(element, codes);
  const auto bar = asked.find('|');
  return std::ranges::any_of(codes, [&](const Code& one) {
    if (bar == std::string_view::npos) return one.value == asked;
    const auto system = asked.substr(0, bar), value = asked.substr(bar + 1);
    // A code element has its system in its definition: whatever is asked for there is not compared.
    const bool same_system = element.is_string() || one.system == system;
    return same_system && (value.empty() || one.value == value);
  });
}

// ---- references

bool is_reference(const Value& element, std::string_view asked, std::string_view modifier) {
  if (modifier == "identifier") return is_token(element["identifier"], asked);
  const auto stands = fhir::parse_reference(element["reference"].text());
  const bool bare = asked.find('/') == std::string_view::npos;
  if (bare) return !stands.id.empty() && stands.id == asked && (modifier.empty() || stands.type == modifier);
  const auto wanted = fhir::parse_reference(asked);
  return !wanted.id.empty() && wanted.type == stands.type && wanted.id == stands.id && wanted.base == stands.base;
}

// ---- dates

struct Span {
  fhir::Instant earliest = fhir::Instant::min(), latest = fhir::Instant::max();
};

std::optional<Span> span_of(std::string_view text) {
  if (const auto day = fhir::read_utc_date(text)) return Span{day->earliest, day->latest};
  const auto time = fhir::read_time(text);
  if (time.has_error()) return std::nullopt;
  return Span{time->earliest, time->latest};
}

std::optional<Span> span_of(const Value& element) {
  if (element.is_string()) return span_of(element.text());
  if (!element.has("start") && !element.has("end")) return std::nullopt;
  Span span;
  if (const auto start = span_of(element["start"].text())) span.earliest = start->earliest;
  if (const auto end = span_of(element["end"].text())) span.latest = end->latest;
  return span;
}

constexpr std::array<std::string_view, 8> kPrefixes{"eq", "ne", "gt", "lt", "ge", "le", "sa", "eb"};

std::pair<std::string_view, std::string_view> prefix_of(std::string_view asked) {
  if (asked.size() > 2 && std::ranges::find(kPrefixes, asked.substr(0, 2)) != kPrefixes.end()) return {asked.substr(0, 2), asked.substr(2)};
  return {"eq", asked};
}

// What each prefix means: https://hl7.org/fhir/R4/search.html#prefix, "target" the resource's range, "search" the one asked for.
bool is_in(const Span& target, std::string_view asked) {
  const auto [prefix, text] = prefix_of(asked);
  const auto search = span_of(text);
  if (!search) return false;
  const bool within = search->earliest <= target.earliest && target.latest <= search->latest;
  if (prefix == "eq") return within;
  if (prefix == "ne") return !within;
  if (prefix == "gt") return target.latest > search->latest;
  if (prefix == "lt") return target.earliest < search->earliest;
  if (prefix == "ge") return target.latest > search->latest || within;
  if (prefix == "le") return target.earliest < search->earliest || within;
  if (prefix == "sa") return target.earliest > search->latest;
  return target.latest < search->earliest;
}

// ---- one term

bool is_value(std::string_view kind, const Value& element, const std::string& asked, const std::string& modifier) {
  if (kind == "token") return is_token(element, asked);
  if (kind == "reference") return is_reference(element, asked, modifier);
  const auto span = span_of(element);
  return span && is_in(*span, asked);
}

std::string_view kind_of(const SearchQuery::Term& term) { return term.parameter ? term.parameter->kind : term.name == "_id" ? "token" : "date"; }

bool has_term(const SearchQuery::Term& term, const Value& resource) {
  const std::vector<Value> elements = term.parameter ? selected(*term.parameter, resource) : std::vector<Value>{term.name == "_id" ? resource["id"] : resource["meta"]["lastUpdated"]};
  if (term.modifier == "missing") return elements.empty() == (term.values.front() == "true");
  const bool any = std::ranges::any_of(elements, [&](const Value& element) {
    return std::ranges::any_of(term.values, [&](const std::string& asked) { return is_value(kind_of(term), element, asked, term.modifier); });
  });
  return term.modifier == "not" ? !any : any;
}

// ---- reading

std::vector<std::string> split(std::string_view text, char at) {
  std::vector<std::string> parts;
  for (std::size_t begin = 0; begin <= text.size();) {
    const auto end = std::min(text.find(at, begin), text.size());
    parts.emplace_back(text.substr(begin, end - begin));
    begin = end + 1;
  }
  return parts;
}

/// Why these values cannot be asked for; empty: they can.
std::string fault_of(const SearchQuery::Term& term) {
  const auto kind = kind_of(term);
  if (term.modifier == "missing") return term.values == std::vector<std::string>{"true"} || term.values == std::vector<std::string>{"false"} ? "" : term.name + ":missing is true or false";
  const bool known = term.modifier.empty() || (kind == "token" && term.modifier == "not") || (kind == "reference" && (term.modifier == "identifier" || fhir::is_type_name(term.modifier)));
  if (!known) return "the modifier :" + term.modifier + " is not known for " + term.name;
  for (const std::string& value : term.values) {
    if (value.empty()) return term.name + " has an empty value";
    if (kind == "date" && !span_of(prefix_of(value).second)) return term.name + ": \"" + value + "\" is no date";
  }
  return "";
}

class Reading {
 public:
  Reading(std::string_view type, std::string_view base) : base_(base) { query_.type = type; }

  std::string take(std::string_view parameter) {
    const auto equals = std::min(parameter.find('='), parameter.size());
    const std::string name = percent_decoded(parameter.substr(0, equals));
    const std::string_view written = parameter.substr(std::min(equals + 1, parameter.size()));
    if (name == "_after") return query_.after = percent_decoded(written), "";
    query_.asked += (query_.asked.empty() ? "" : "&") + std::string(parameter);
    if (name == "_format") return "";
    if (name == "_count") return take_count(percent_decoded(written));
    if (name == "_sort") return take_sort(percent_decoded(written));
    return take_term(name, written);
  }
  SearchQuery result() { return std::move(query_); }

 private:
  std::string take_count(const std::string& text) {
    const auto read = std::from_chars(text.data(), text.data() + text.size(), query_.count);
    if (text.empty() || read.ec != std::errc{} || read.ptr != text.data() + text.size()) return "_count: \"" + text + "\" is no number";
    query_.count = std::min<std::size_t>(query_.count, 1000);
    return "";
  }

  std::string take_sort(std::string text) {
    query_.descending = text.starts_with('-');
    if (query_.descending) text.erase(0, 1);
    const auto* parameter = parameter_named(query_.type, text);
    if (text != "_id" && text != "_lastUpdated" && (!parameter || parameter->kind == "reference")) return "_sort: \"" + text + "\" cannot be sorted by";
    query_.sort = text == "_id" ? "" : text;
    return "";
  }

  std::string take_term(const std::string& written_name, std::string_view written) {
    SearchQuery::Term term;
    const auto colon = std::min(written_name.find(':'), written_name.size());
    term.name = written_name.substr(0, colon);
    term.modifier = colon < written_name.size() ? written_name.substr(colon + 1) : "";
    term.parameter = parameter_named(query_.type, term.name);
    if (!term.parameter && term.name != "_id" && term.name != "_lastUpdated") return "the parameter " + term.name + " is not known for " + query_.type;
    for (std::string value : split(percent_decoded(written), ',')) {
      if (kind_of(term) == "date") std::ranges::replace(value, ' ', '+');  // an offset that was not encoded
      if (kind_of(term) == "reference" && term.modifier != "identifier") value = below_base(std::move(value));
      term.values.push_back(std::move(value));
    }
    if ((term.name == "patient") && term.modifier.empty())
      for (std::string& value : term.values)
        if (value.find('/') == std::string::npos && !value.empty()) value = "Patient/" + value;
    if (auto fault = fault_of(term); !fault.empty()) return fault;
    query_.terms.push_back(std::move(term));
    return "";
  }

  std::string below_base(std::string value) const {
    const std::string base = base_ + "/";
    return base_.empty() || !value.starts_with(base) ? value : value.substr(base.size());
  }

  std::string base_;
  SearchQuery query_;
};

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

}  // namespace

std::span<const SearchParameter> search_parameters() { return kParameters; }

boost::system::result<SearchQuery, std::string> parse_search(std::string_view type, std::string_view query, std::string_view base) {
  Reading reading(type, base);
  for (const std::string& one : split(query, '&')) {
    if (one.empty()) continue;
    if (std::string fault = reading.take(one); !fault.empty()) return {boost::system::in_place_error, fault};
  }
  return reading.result();
}

bool matches(const SearchQuery& query, const Value& resource) {
  return resource["resourceType"].text() == query.type && std::ranges::all_of(query.terms, [&](const auto& term) { return has_term(term, resource); });
}

std::string order_key(const SearchQuery& query, const Value& resource) {
  std::string key;
  if (query.sort == "_lastUpdated") key = resource["meta"]["lastUpdated"].text();
  else if (const auto* parameter = parameter_named(query.type, query.sort)) {
    const auto elements = selected(*parameter, resource);
    if (!elements.empty() && parameter->kind == "date") {
      const auto span = span_of(elements.front());
      key = span && span->earliest != fhir::Instant::min() ? fhir::format_utc(span->earliest) : "";
    } else if (!elements.empty()) {
      std::vector<Code> codes;
      add_codes(elements.front(), codes);
      key = codes.empty() ? "" : codes.front().value;
    }
  }
  if (query.descending)
    for (char& c : key) c = static_cast<char>(~static_cast<unsigned char>(c));
  // A shorter text goes before one that begins with it, also the other way round.
  return key + (query.descending ? '\xff' : '\x01') + std::string(resource["id"].text());
}

std::string patient_of(const SearchQuery& query) {
  for (const auto& term : query.terms)
    if ((term.name == "patient" || term.name == "subject") && term.modifier.empty() && term.values.size() == 1 && term.values.front().starts_with("Patient/")) return term.values.front();
  return "";
}

std::string percent_decoded(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const int high = text[i] == '%' && i + 2 < text.size() ? hex_digit(text[i + 1]) : -1;
    const int low = high >= 0 ? hex_digit(text[i + 2]) : -1;
    if (low >= 0) out += static_cast<char>(high * 16 + low), i += 2;
    else out += text[i] == '+' ? ' ' : text[i];
  }
  return out;
}

std::string percent_encoded(std::string_view text) {
  constexpr std::string_view digits = "0123456789ABCDEF";
  std::string out;
  for (const unsigned char c : text) {
    if (std::isalnum(c) || c == '-' || c == '.' || c == '_' || c == '~') out += static_cast<char>(c);
    else out += {'%', digits[c >> 4], digits[c & 15]};
  }
  return out;
}

}  // namespace fhir_read
