#include "sheet_support.h"

#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>

namespace sheet {

using clinical::Agent;
using clinical::Analyte;
using clinical::Chart;
using clinical::Closure;
using clinical::hm;
using clinical::minutes;
using clinical::Side;
using clinical::Vessel;
using Kind = clinical::AccessEventKind;

const Fonts& fonts() {
  static const Fonts loaded = [] {
    auto result = Fonts::load(distribution_fonts());
    if (const auto* fault = std::get_if<std::string>(&result)) {
      std::fprintf(stderr, "%s\n", fault->c_str());
      std::abort();
    }
    return std::get<Fonts>(std::move(result));
  }();
  return loaded;
}

namespace {

void need(const std::vector<tables::Fault>& faults) {
  for (const auto& fault : faults) std::fprintf(stderr, "%s\n", to_string(fault).c_str());
  if (!faults.empty()) std::abort();
}

}  // namespace

const words::Words& words_in(const std::string& language) {
  static std::map<std::string, words::Words> known;
  const auto found = known.find(language);
  if (found != known.end()) return found->second;
  auto result = words::load_words(SOURCE_DIR "/templates", language);
  need(result.faults);
  return known.emplace(language, std::move(result.words)).first->second;
}

std::vector<std::string> languages() {
  std::vector<std::string> found;
  for (const auto& entry : std::filesystem::directory_iterator(SOURCE_DIR "/templates"))
    if (entry.path().filename() != "layout" && entry.path().filename() != "en") found.push_back(entry.path().filename().string());
  std::ranges::sort(found);
  found.insert(found.begin(), "en");
  return found;
}

const Layout& layout_named(const std::string& paper) {
  static std::map<std::string, Layout> known;
  const auto found = known.find(paper);
  if (found != known.end()) return found->second;
  auto loaded = load_layout(SOURCE_DIR "/templates", paper);
  need(loaded.faults);
  return known.emplace(paper, std::move(*loaded.layout)).first->second;
}

SheetInput Case::input() const {
  SheetInput in{plan, clinical::cautious(), words_in(language), layout_named(paper), words::context_at(as_of, words::zone_named("Europe/Berlin"))};
  in.as_of = as_of;
  in.patient_code = patient_code;
  in.number = 3;
  in.supersedes = SheetInput::Earlier{2, as_of - minutes{20}};
  in.installation = "ward-7.example";
  in.plan_hash = std::string(64, 'b');
  in.void_reason = void_reason;
  return in;
}

namespace {


void describe(Chart& chart) {
  auto& patient = chart.record.patient;
  patient.name = "TESTCASE, Marianne";
  patient.record_number = "T-004711";
  patient.birth_written = "1966-05-01";
  chart.index().title = "Coronary stent, invented";
  chart.index().operator_name = "Dr Invented";
  chart.index().place = "Recovery bay 4";
}

Chart six_french() {
  Chart chart = clinical::intervention_chart(6);
  describe(chart);
  return chart;
}

// The fixture's values come without a unit; a record gives them with one.
void add_units(Chart& chart) {
  for (auto& m : chart.record.measurements) {
    if (!m.value || m.value->written.find(' ') != std::string::npos) continue;
    for (const auto& [analyte, unit] : {std::pair{Analyte::platelets, "10*9/L"}, {Analyte::haemoglobin, "g/dL"}, {Analyte::creatinine, "mg/dL"}, {Analyte::weight, "kg"}, {Analyte::height, "cm"},
                                        {Analyte::systolic, "mmHg"}, {Analyte::diastolic, "mmHg"}, {Analyte::heart_rate, "/min"}, {Analyte::act, "s"}})
      if (m.analyte == analyte) m.value->written += std::string(" ") + unit;
  }
}

void measure(Chart& chart, Instant at, double act) {
  chart.pressure(128, at);
  chart.lab(Analyte::heart_rate, 70, at);
  chart.lab(Analyte::act, act, at).value = clinical::amount(act, "s");
  chart.check(at).baseline_pulses = "2+ both feet (scale 0 to 4, 2 normal)";
}

// What names the index procedure was at its own site.
void name_sites(Chart& chart) {
  for (auto& e : chart.record.access_events)
    if (e.procedure == "Procedure/p1") e.side = Side::right, e.vessel = Vessel::artery;
  for (auto& c : chart.record.checks)
    if (c.procedure == "Procedure/p1") c.side = Side::right;
}

Case made(std::string name, Chart chart, Instant as_of) {
  add_units(chart);
  name_sites(chart);
  return {std::move(name), chart.plan(as_of), as_of};
}

Chart held() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  clinical::pull_at(chart, hm(17));
  return chart;
}

Chart dry() {
  Chart chart = held();
  chart.event(Kind::haemostasis_confirmed, hm(17, 25));
  chart.check(hm(17, 40)).baseline_pulses = "2+ both feet (scale 0 to 4, 2 normal)";
  chart.pressure(131, hm(17, 40));
  return chart;
}

}  // namespace

Case waiting_for_act() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  return made("waiting-for-act", chart, hm(13, 25));
}

Case ready_to_pull() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  measure(chart, hm(16, 50), 140);
  return made("ready-to-pull", chart, hm(16, 55));
}

Case compressing() { return made("compressing", held(), hm(17, 4)); }
Case resting() { return made("resting", dry(), hm(17, 45)); }

Case rebleed() {
  Chart chart = dry();
  chart.event(Kind::rebleed, hm(18, 50));
  chart.event(Kind::compression_started, hm(18, 50));
  return made("rebleed", chart, hm(18, 55));
}

Case dry_again() {
  Chart chart = dry();
  chart.event(Kind::rebleed, hm(18, 50));
  chart.event(Kind::compression_started, hm(18, 50));
  chart.event(Kind::haemostasis_confirmed, hm(19, 15));
  return made("dry-again", chart, hm(19, 20));
}

Case emergency() {
  Chart chart = dry();
  chart.pressure(72, hm(17, 44));
  return made("emergency", chart, hm(17, 45));
}

Case day_only_inr() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  std::erase_if(chart.record.measurements, [](const auto& m) { return m.analyte == Analyte::inr; });
  chart.lab(Analyte::inr, 1.1, hm(0)).at = clinical::Moment{hm(0) - std::chrono::hours{1}, hm(23) - std::chrono::seconds{1}};  // the day in Berlin
  return made("day-only-inr", chart, hm(13, 25));
}

Case size_missing() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  chart.index().french.clear();
  chart.index().closures.clear();
  return made("size-missing", chart, hm(13, 25));
}

Case side_contradicted() {
  Chart chart = six_french();
  measure(chart, hm(13, 20), 290);
  chart.index().sides.push_back({Side::left, {"Device/invented", "1", true}});
  return made("side-contradicted", chart, hm(13, 25));
}

Case artery_and_vein() {
  Chart chart = dry();
  chart.procedure("p2", 8, Closure::manual, Side::left, Vessel::vein).part_of = "Procedure/p1";
  chart.check(hm(17, 40), "Procedure/p2");
  return made("artery-and-vein", chart, hm(17, 45));
}

Case withdrawn() {
  Case c = made("void", dry(), hm(17, 45));
  c.void_reason = "The side was wrong in the record and has been corrected.";
  return c;
}

Case named(std::string name) {
  Chart chart = dry();
  chart.record.patient.name = std::move(name);
  return made("named", chart, hm(17, 45));
}

Case overflowing() {
  Chart chart = held();
  chart.record.patient.name = "TESTCASE-VON-UND-ZU-SEHR-LANGEM-NAMEN, Marianne Wilhelmine Alexandra Konstanze Emilie Friederike Theodora Apollonia Maria Josepha";
  chart.index().title = std::string(12, ' ') + "Rotational atherectomy and stenting of the left main stem, the left anterior descending and the circumflex artery with balloon pump (invented)";
  chart.index().sides.push_back({Side::left, {"Device/invented", "1", true}});
  chart.procedure("p2", 8, Closure::manual, Side::left, Vessel::vein).part_of = "Procedure/p1";
  chart.procedure("p3", 9, Closure::mechanical, Side::left, Vessel::artery).part_of = "Procedure/p1";
  for (int i = 0; i < 40; ++i)
    chart.bolus(Agent::heparin, 1000 + i, hm(12, 6 + i)).name = "heparin sodium from porcine mucosa 5000 units in 5 mL, ampoule of the ward's own stock number " + std::to_string(i);
  chart.pressure(72, hm(17, 2));
  return made("overflowing", chart, hm(17, 4));
}

std::vector<Case> all_cases() {
  std::vector<Case> cases{waiting_for_act(), ready_to_pull(), compressing(), resting(), emergency(), rebleed(), dry_again(), day_only_inr(), size_missing(), side_contradicted(), artery_and_vein(), withdrawn(), overflowing()};
  Case letter = waiting_for_act();
  letter.name = "letter";
  letter.paper = "Letter";
  cases.push_back(std::move(letter));
  return cases;
}

Pdf pdf_of_case(const Case& c) {
  auto result = render(c.input(), fonts());
  if (const auto* refusal = std::get_if<Refusal>(&result)) {
    ADD_FAILURE() << c.name << ": " << refusal->text;
    return {};
  }
  return std::get<Pdf>(std::move(result));
}

std::string output_of(const std::string& command) {
  std::string out;
  FILE* pipe = popen(command.c_str(), "r");
  std::array<char, 4096> part{};
  while (const std::size_t n = pipe ? fread(part.data(), 1, part.size(), pipe) : 0) out.append(part.data(), n);
  const int status = pipe ? pclose(pipe) : -1;
  EXPECT_EQ(status, 0) << command << '\n' << out;
  return out;
}

std::string scratch(const std::string& name, std::string_view bytes) {
  static const std::filesystem::path folder = [] {
    auto made_at = std::filesystem::temp_directory_path() / ("sheet-test-" + std::to_string(getpid()));
    std::filesystem::create_directories(made_at);
    return made_at;
  }();
  const auto path = folder / name;
  std::ofstream(path, std::ios::binary) << bytes;
  return path.string();
}

namespace {

class Reader {
 public:
  void say(const std::string& text) {
    if (!text.empty()) texts.push_back(text);
  }
  void all(const std::vector<std::string>& some) {
    for (const auto& text : some) say(text);
  }
  void say(const BigWord& word) { all({word.caption, word.act, word.time, word.day, word.detail}), all(word.strong); }
  void say(const Section& section) {
    all({section.title, section.answer});
    all(section.before);
    if (section.table) {
      for (const auto& column : section.table->columns) say(column.head);
      for (const auto& row : section.table->rows)
        for (const auto& cell : row.cells) all({cell.text, cell.note});
    }
    all(section.after);
  }
  void say(const Timeline& picture) {
    all({picture.now_label, picture.key});
    if (std::ranges::any_of(picture.lanes, [](const auto& lane) { return !lane.later.empty(); })) say(picture.later_label);
    for (const auto& [mark, word] : picture.marks) say(word);
    for (const auto& lane : picture.lanes) {
      say(lane.name);
      for (const auto& point : lane.points) all({point.time, point.label});
      if (lane.band) say(lane.band->label);
      for (const auto& later : lane.later) all({later.time, later.label});
    }
  }
  std::vector<std::string> texts;
};

}  // namespace

std::vector<std::string> texts_of(const SheetLines& lines) {
  Reader reader;
  reader.all({lines.head.name, lines.head.warning, lines.head.procedure, lines.head.sheet});
  reader.all(lines.head.who);
  reader.all(lines.head.flags);
  reader.say(lines.foot.use_before);
  reader.all(lines.foot.lines);
  reader.say(lines.foot.honest);
  reader.say(lines.void_title);
  reader.all(lines.void_lines);
  for (const auto* callouts : {&lines.alerts, &lines.unknown})
    for (const auto& callout : *callouts) {
      reader.say(callout.title);
      for (const auto& item : callout.items) reader.all({item.text, item.note});
    }
  for (const auto& plate : lines.plates) {
    reader.all({plate.side, plate.size, plate.state});
    reader.all(plate.more);
  }
  for (const auto& spot : lines.figure.spots) reader.say(spot.label);
  reader.say(lines.next);
  reader.say(lines.flat);
  reader.all(lines.then);
  if (lines.timeline) reader.say(*lines.timeline);
  for (const auto& section : lines.sections) reader.say(section);
  return std::move(reader.texts);
}

bool says(const SheetLines& lines, std::string_view part) {
  const auto texts = texts_of(lines);
  return std::ranges::any_of(texts, [&](const std::string& text) { return text.find(part) != std::string::npos; });
}

}  // namespace sheet
