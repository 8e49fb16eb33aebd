#include "reader/document.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <string>

using namespace ringquell;
using namespace ringquell::internal;

namespace {
std::string error_of(const std::string& text) {
    try {
        parse_document(text, "a.yaml");
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}
}  // namespace

TEST_CASE("a document is a tree whose values know their place") {
    const Node root = parse_document("a: 1\nb:\n  - {c: on}\n  - \"x\"\nd: ~\n", "a.yaml");
    REQUIRE(root.is_map());
    CHECK(root.find("a")->scalar == "1");
    CHECK(root.find("b")->items[0].find("c")->scalar == "on");
    CHECK(root.find("b")->items[0].find("c")->place == Place{"a.yaml", 3, 9});
    CHECK(root.find("b")->items[1].quoted);
    CHECK(root.find("d")->is_null());
    CHECK(root.find("e") == nullptr);
}

TEST_CASE("comments, anchors, block texts and a byte order mark are read") {
    const Node root =
        parse_document("\xef\xbb\xbf# a comment\na: &x {r: 1}\nb: *x\nc: >\n  two\n  words\n", "a.yaml");
    CHECK(root.find("b")->find("r")->scalar == "1");
    CHECK(root.find("c")->scalar == "two words\n");
}

TEST_CASE("an empty text is a null node") {
    CHECK(parse_document("", "a.yaml").is_null());
    CHECK(parse_document("# nothing\n", "a.yaml").is_null());
}

TEST_CASE("a repeated key names both places") {
    CHECK(error_of("a: 1\nb: 2\na: 3\n") ==
          "a.yaml:3:1: a: the key is given twice, first in line 1, column 1");
    CHECK(error_of("m: {x: 1, x: 2}\n") ==
          "a.yaml:1:11: x: the key is given twice, first in line 1, column 5");
}

TEST_CASE("what is not a plain tree is refused") {
    CHECK(error_of("a: 1\n---\nb: 2\n").find("a second document begins") != std::string::npos);
    CHECK(error_of("<<: {a: 1}\n") ==
          "a.yaml:1:1: <<: merge keys are not part of YAML 1.2; write the keys out");
    CHECK(error_of("a: !!str 1\n").find("a case has no tags") != std::string::npos);
    CHECK(error_of("a: !mine {b: 1}\n").find("found the tag") != std::string::npos);
    CHECK(error_of("? [1, 2]\n: x\n").find("a key must be plain text") != std::string::npos);
    CHECK(error_of("~: x\n").find("a key must be plain text") != std::string::npos);
    CHECK(error_of("a: &x [*x]\n") == "a.yaml:1:8: an alias stands inside the value that it names");
    CHECK(error_of("a: *nothing\n").find("this is not YAML") != std::string::npos);
    CHECK(error_of("a: [1, 2\nb: 3\n").starts_with("a.yaml:"));
    CHECK(error_of("a: \"x\n").find("this is not YAML") != std::string::npos);
    CHECK(error_of("a: 1\n\tb: 2\n") != "");
}

TEST_CASE("text that is not UTF-8 is refused where it stops being so") {
    CHECK(error_of("a: 1\nb: \xff\n") == "a.yaml:2:4: the text is not UTF-8");
    CHECK(error_of("a: \xc0\x80\n") == "a.yaml:1:4: the text is not UTF-8");      // overlong
    CHECK(error_of("a: \xed\xa0\x80\n") == "a.yaml:1:4: the text is not UTF-8");  // a surrogate
    CHECK(error_of(std::string("a: \0\n", 5)) == "a.yaml:1:4: the text is not UTF-8");
    CHECK(error_of("\xff\xfe\x61\x00") != "");
}

TEST_CASE("nesting and aliases are bounded before they cost memory") {
    CHECK(error_of(std::string(64, '[') + std::string(64, ']')) == "");
    CHECK(error_of(std::string(65, '[') + std::string(65, ']')) ==
          "a.yaml:1:65: lists and maps stand inside each other more than 64 deep");
    CHECK(error_of(std::string(200000, '[')) != "");
    CHECK(error_of(std::string(200000, '{')) != "");
    std::string dashes;
    for (int k = 0; k < 100000; ++k) dashes += "- ";
    CHECK(error_of(dashes).find("more than 64 deep") != std::string::npos);
    std::string bomb = "a0: &a0 [1,1,1,1,1,1,1,1,1,1]\n";
    for (int k = 1; k < 12; ++k) {
        bomb += fmt::format("a{}: &a{} [", k, k);
        for (int i = 0; i < 10; ++i) bomb += fmt::format("{}*a{}", i > 0 ? "," : "", k - 1);
        bomb += "]\n";
    }
    CHECK(error_of(bomb).find("more than 500000 values once aliases are written out") != std::string::npos);
    CHECK(error_of(std::string(5 * 1024 * 1024, ' ')) == "a.yaml: the file is larger than 4 MiB");
}

TEST_CASE("files that cannot be read are errors that name them") {
    const auto message = [](const std::string& path) {
        try {
            read_text_file(path);
        } catch (const InputError& error) {
            return std::string(error.what());
        }
        return std::string();
    };
    CHECK(message("/nowhere/x.yaml") == "/nowhere/x.yaml: the file does not exist");
    CHECK(message("/tmp") == "/tmp: the file is a directory");
    CHECK(message("/dev/zero") == "/dev/zero: the file is larger than 4 MiB");
}
