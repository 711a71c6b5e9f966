// What another project does with the installed package: it links each layer and uses something of it.
#include <cstdio>
#include <string>

#include "lang/findings/files.h"
#include "lang/text/version.h"
#include "lang/values/quantity.h"
#include "runtime/support/output_file.h"

int main() {
  rampart::OutputFile output("-");
  output.write("linked with rampart " + std::string(rampart::version()) + "\n");
  return output.commit() ? 0 : 1;
}
