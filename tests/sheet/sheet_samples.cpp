// Writes invented sheets as PDF: sheet_samples FOLDER [LANGUAGE] [PAPER]. What DEVELOPERS.md and deploy/pictures are made with.
#include <filesystem>
#include <fstream>
#include <iostream>

#include "sheet_support.h"

int main(int count, char** words) {
  if (count < 2) {
    std::cerr << "sheet_samples FOLDER [LANGUAGE] [PAPER]\n";
    return 2;
  }
  const std::filesystem::path folder = words[1];
  std::filesystem::create_directories(folder);
  for (auto c : sheet::all_cases()) {
    if (count > 2) c.language = words[2];
    if (count > 3) c.paper = words[3];
    c.patient_code = sheet::CodeKind::data_matrix;
    std::ofstream(folder / (c.name + ".pdf"), std::ios::binary) << sheet::pdf_of_case(c).bytes;
  }
}
