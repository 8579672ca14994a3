// What a sheet says, before it is placed: plain values, every text already in the ward's language.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sheet/layout.h"
#include "sheet/sheet.h"

namespace sheet {

/// Drawn beside a text, never instead of it.
enum class Mark { none, box, yes, no, unknown, done, due, expected, blocked };

/// One cell of a table: a text, smaller words under it, or room for handwriting.
struct Cell {
  std::string text;
  std::string note;
  Mark mark = Mark::none;
  bool strong = false;
  bool write_in = false;  ///< empty on purpose, framed
};
struct TableColumn {
  std::string head;
  double share = 1;       ///< of the width, against the other columns
};
struct Row {
  std::vector<Cell> cells;
};
struct Table {
  std::vector<TableColumn> columns;
  std::vector<Row> rows;
};

/// A titled part.
struct Section {
  std::string title;
  std::string answer;              ///< stands large beside the title: "NOT YET"
  std::vector<std::string> before; ///< paragraphs above the table
  std::optional<Table> table;
  std::vector<std::string> after;  ///< below it
  bool large = false;              ///< paragraphs in larger type: to be read by the patient
  Block block{};                   ///< decides its place on the paper
};

/// On every page.
struct Head {
  std::string name;
  std::vector<std::string> who;    ///< birth, record number, place
  std::string procedure;
  std::string sheet;               ///< "Sheet 3"
  std::string page;                ///< "page #1 of #2"; the numbers are known when everything has its place
  std::vector<std::string> flags;  ///< "NOT APPROVED": in a black strip, and across the page
  std::string warning;             ///< the name could not be printed
};

/// One puncture, in words.
struct Plate {
  std::string side;                ///< "RIGHT groin"
  std::string size;                ///< "6 F femoral artery"
  std::vector<std::string> events; ///< "REBLED 19:05", each time
  std::string state;               ///< "SHEATH IN"
  std::vector<std::string> more;
};
struct FigureSpot {
  clinical::Side side{};
  clinical::Vessel vessel{};
  std::string label;
};
struct Figure {
  std::string right, left;         ///< words at the figure's sides
  std::string foot_pulse;
  std::string caption;
  std::vector<FigureSpot> spots;
};

struct BigWord {
  std::string caption;             ///< "NEXT"
  std::string act;
  std::string time;                ///< "18:12", "NOW", "no time yet"
  std::string day;                 ///< "3 Mar", where the time is on another day than the sheet
  std::vector<std::string> strong;///< lines under the time that must be read with it
  std::string detail;
};

/// White on black (alerts) or framed (what is unknown).
struct Callout {
  struct Item {
    std::string text, note;
    friend bool operator==(const Item&, const Item&) = default;
  };
  std::string title;
  std::vector<Item> items;         ///< each once
  bool inverse = false;
};

struct Timeline {
  struct Point {
    Instant at{};
    std::string time, label;
    Mark mark = Mark::expected;
  };
  struct Band {
    Instant from{}, to{};
    std::optional<Instant> middle;
    std::string label;
  };
  struct Later {
    clinical::minutes after{};
    std::string time, label;
  };
  struct Lane {
    std::string name;
    std::vector<Point> points;
    std::vector<std::pair<Instant, bool>> checks;  ///< due time, made
    std::optional<Band> band;
    std::vector<Later> later;                      ///< from a T0 that does not exist yet
  };
  Instant from{}, to{};
  std::vector<std::pair<Instant, std::string>> ticks;
  Instant now{};
  std::string now_label, later_label, key;
  std::vector<std::pair<Mark, std::string>> marks;   ///< what the marks mean; `key` says the rest
  std::vector<Lane> lanes;
};

struct Foot {
  std::string bleeding;            ///< what to do if it bleeds, on every page
  std::string use_before;          ///< "Do not use after 16:00", bold
  std::vector<std::string> lines;
  std::string honest;
  struct Code {
    Barcode code;
    std::string caption;
  };
  std::vector<Code> codes;         ///< of the patient, of the sheet
  std::vector<std::string> code_faults;
};

struct SheetLines {
  Head head;
  Foot foot;
  std::string void_title;          ///< not empty: the sheet says only this, `void_lines` and which groin
  std::vector<std::string> void_lines;
  std::vector<Callout> alerts;
  std::vector<Plate> plates;
  Figure figure;
  BigWord next, flat;
  std::vector<std::string> then;   ///< what follows the next act
  std::vector<Callout> unknown;
  std::optional<Timeline> timeline;
  std::vector<Section> sections;
};

/// The whole sheet in words. `fonts` answers whether the name can be printed.
SheetLines lines_of(const SheetInput&, const Fonts& fonts);

}  // namespace sheet
