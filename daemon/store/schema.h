#pragma once

#include <span>

namespace store {

// One numbered step of the SQLite schema: the text of schema/NNNN.sql, put in by the build.
struct SchemaStep {
  int number;
  const char* sql;
};

// In order, numbers 1, 2, 3 ... without gaps.
std::span<const SchemaStep> schema_steps();

}  // namespace store
