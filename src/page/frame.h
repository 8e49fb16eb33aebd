// What every page is made of: a head with its policy, sections with plots, the numbers, and the scripts that draw
// them.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/judge.h"

namespace ringquell::internal {

/// A section with its heading; contents name them all.
class Sections {
  public:
    void open(const char* id, const char* heading);
    void add(const std::string& html) { out_ += html; }
    /// A plot with its caption and, folded, its numbers; the script fills all three. `id` of the canvas or
    /// drawing is id-plot.
    void plot(const std::string& id, bool canvas = true, const char* extra = "");
    std::string finish();
    std::string contents;

  private:
    std::string out_;
    bool open_ = false;
};

/// "Passes", "Fails", "No verdict".
const char* verdict_title(Verdict verdict);
/// A line with a sign that needs no colour; `beside` is HTML.
std::string verdict_banner(Verdict verdict, const std::string& beside);

/// Empty lines for the names of these roles, and for remarks.
std::string sign_off(const std::vector<const char*>& roles);

/// What position, differential, common, damping ratio and margin mean, as HTML.
extern const char* const mode_words;

struct PageFrame {
    std::string word;     // before the title in the browser's list
    std::string kind;     // above the title
    std::string title;    // plain text
    std::string data_id;  // of the element that holds the JSON
    std::string json;
};
/// The whole page around the HTML of its sections. Asks for nothing from anywhere: its policy forbids it.
std::string framed_page(const PageFrame& frame, const std::string& sections,
                        const std::vector<std::string_view>& scripts);

}  // namespace ringquell::internal
