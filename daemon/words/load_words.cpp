#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>

#include "tables/document.h"
#include "words/plural.h"
#include "words/words.h"

namespace words {
namespace {

using tables::Fault;
using tables::Item;

bool takes_arguments(std::string_view table) { return table == "reason" || table == "text"; }

std::set<std::string> slots_of(const std::vector<Piece>& pieces) {
  std::set<std::string> names;
  for (const Piece& piece : pieces)
    if (const auto* slot = std::get_if<Slot>(&piece)) names.insert(slot->name);
  return names;
}

// Languages that are written from right to left (Unicode CLDR, layout orientation).
bool written_from_the_right(std::string_view tag) {
  constexpr std::string_view tags[] = {"ar", "fa", "he", "ps", "sd", "ug", "ur", "yi"};
  return std::ranges::find(tags, tag.substr(0, tag.find('-'))) != std::end(tags);
}

}  // namespace

/// Gathers the entries of one language's files.
class Words::Loader {
 public:
  void read(const tables::Document& document) {
    faults.insert(faults.end(), document.faults.begin(), document.faults.end());
    file_ = document.file;
    for (const Item& table : document.root.items) {
      constexpr std::string_view known[] = {"reason", "text", "term", "label"};
      if (std::find(std::begin(known), std::end(known), table.key) == std::end(known) || !table.is_table())
        add_fault(table.key_at, fmt::format("unknown table '{}'", table.key), "write reason, text, term or label");
      else
        for (const Item& item : table.items) read_item(item, table.key, item.key);
    }
  }

  Entries entries;
  std::vector<Fault> faults;

 private:
  void add_fault(tables::Place at, std::string text, std::string remedy) { faults.push_back({file_, at.line, at.column, std::move(text), std::move(remedy)}); }

  void read_item(const Item& item, const std::string& table, const std::string& key) {
    if (item.is_header()) {
      for (const Item& child : item.items) read_item(child, table, fmt::format("{}.{}", key, child.key));
      return;
    }
    Entry entry{{}, {file_, item.key_at.line, item.key_at.column, {}, {}}};
    if (item.is_string()) {
      read_form(item, table, key, "other", entry);
    } else if (item.is_table() && takes_arguments(table)) {
      for (const Item& form : item.items) read_form(form, table, key, form.key, entry);
    } else {
      return add_fault(item.at, fmt::format("'{}' is {}", key, tables::name_of(item.kind)), "write a string");
    }
    if (entry.forms.empty()) return;
    if (!entry.forms.contains("other")) return add_fault(item.key_at, fmt::format("'{}' has no form 'other'", key), "add other = \"...\"");
    const auto [standing, added] = entries.emplace(fmt::format("{} {}", table, key), std::move(entry));
    if (!added)
      add_fault(item.key_at, fmt::format("'{}' stands also at {}:{}", key, standing->second.place.file, standing->second.place.line), "remove one of the two");
  }

  void read_form(const Item& item, const std::string& table, const std::string& key, const std::string& form, Entry& entry) {
    if (!is_plural_form(form)) return add_fault(item.key_at, fmt::format("'{}' of '{}' is no form", form, key), "write zero, one, two, few, many or other");
    if (!item.is_string()) return add_fault(item.at, fmt::format("'{}' of '{}' is {}", form, key, tables::name_of(item.kind)), "write a string");
    ParsedSentence parsed = parse_sentence(item.text);
    if (!parsed.fault.empty()) return add_fault(item.at, fmt::format("'{}': {}", key, parsed.fault), "correct the braces; a brace itself is written {{");
    if (!takes_arguments(table) && !slots_of(parsed.pieces).empty())
      return add_fault(item.at, fmt::format("'{}' in [{}] has an argument", key, table), "move it to [text], or take the argument out");
    entry.forms.emplace(form, std::move(parsed.pieces));
  }

  std::string file_;
};

LoadedWords load_words(const std::filesystem::path& templates, const std::string& language) {
  std::string tag = language;
  if (!std::filesystem::is_directory(templates / tag)) tag = language.substr(0, language.find('-'));
  LoadedWords loaded;
  const std::filesystem::path folder = templates / tag;
  std::error_code failed;
  std::vector<std::filesystem::path> files;
  if (!tag.empty() && tag.find_first_of("./") == std::string::npos)
    for (const auto& entry : std::filesystem::directory_iterator{folder, failed})
      if (entry.path().extension() == ".toml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  if (files.empty()) {
    loaded.faults.push_back({folder.string(), 0, 0, fmt::format("there are no sentences for language '{}'", language), "choose a language that has a folder in templates/"});
    return loaded;
  }
  Words::Loader loader;
  for (const auto& file : files) loader.read(tables::read_file(file));
  loaded.words.language_ = tag;
  loaded.words.right_to_left_ = written_from_the_right(tag);
  loaded.words.entries_ = std::make_shared<const Words::Entries>(std::move(loader.entries));
  loaded.faults = std::move(loader.faults);
  tables::sort_faults(loaded.faults);
  return loaded;
}

void Words::complete_from(const Words& other) {
  Entries all = *entries_;
  all.insert(other.entries_->begin(), other.entries_->end());
  entries_ = std::make_shared<const Entries>(std::move(all));
}

std::vector<Fault> compare(const Words& reference, const Words& other) {
  std::vector<Fault> faults;
  const auto add = [&](Fault place, std::string text, std::string remedy) {
    place.text = std::move(text);
    place.remedy = std::move(remedy);
    faults.push_back(std::move(place));
  };
  for (const auto& [name, entry] : *reference.entries_) {
    const auto found = other.entries_->find(name);
    if (found == other.entries_->end()) {
      add(entry.place, fmt::format("'{}' is not in language {}", name, other.language_), "translate it");
      continue;
    }
    const auto wanted = slots_of(entry.forms.at("other")), given = slots_of(found->second.forms.at("other"));
    if (wanted != given)
      add(found->second.place, fmt::format("'{}' has the arguments {}, in {} {}", name, fmt::join(given, " "), reference.language_, fmt::join(wanted, " ")),
          "use the same arguments");
  }
  for (const auto& [name, entry] : *other.entries_)
    if (!reference.entries_->contains(name)) add(entry.place, fmt::format("'{}' is not in language {}", name, reference.language_), "remove it");
  tables::sort_faults(faults);
  return faults;
}

}  // namespace words
